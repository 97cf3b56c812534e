//! Glucose records of the public Bluetooth profiles: vectors worked out by hand from the layouts, and any record back again.

use interstice_intake::bluetooth::{
    BaseTime, CgmMeasurement, GlucoseMeasurement, RecordError, SampleFrom, SensorStatus, Sfloat,
    cgm_measurements,
};
use proptest::prelude::*;

fn number(mantissa: i16, exponent: i8) -> Sfloat {
    Sfloat::Number { mantissa, exponent }
}

/// 100 mg/dL at five minutes, nothing else: size 6, flags 0, 0x0064, 5.
const PLAIN: [u8; 6] = [0x06, 0x00, 0x64, 0x00, 0x05, 0x00];
/// 180 mg/dL at ten minutes with a trend of -1.5 mg/dL a minute: mantissa -15 is 0xFF1 in twelve bits, exponent -1 is 0xF.
const FALLING: [u8; 8] = [0x08, 0x01, 0xb4, 0x00, 0x0a, 0x00, 0xf1, 0xff];

#[test]
fn records_worked_out_by_hand() {
    let (plain, size) = CgmMeasurement::decode(&PLAIN, false).unwrap();
    assert_eq!((plain.glucose, plain.offset_min, size), (number(100, 0), 5, 6));
    assert_eq!(plain.said().unwrap().to_string(), "100 mg/dL");
    assert_eq!(plain.at(1_000_000), 1_000_300);
    let (falling, _) = CgmMeasurement::decode(&FALLING, false).unwrap();
    assert_eq!(
        (falling.glucose, falling.trend),
        (number(180, 0), Some(number(-15, -1)))
    );
    assert_eq!(falling.encode(false).unwrap(), FALLING);
    assert_eq!(
        cgm_measurements(&[&PLAIN[..], &FALLING].concat(), false).unwrap(),
        [plain, falling]
    );
}

/// All fields, in the order of the layout. The checksum of the first thirteen octets, 0x298E, was worked out by another
/// program, which feeds the message in a bit at a time.
#[test]
fn a_record_with_everything() {
    let it = CgmMeasurement {
        glucose: number(1045, -1),
        offset_min: 0x0102,
        status: SensorStatus {
            status: Some(0x01),
            calibration: Some(0x02),
            warning: Some(0x04),
        },
        trend: Some(number(5, -1)),
        quality: Some(number(97, 0)),
    };
    let bytes = it.encode(true).unwrap();
    assert_eq!(
        bytes,
        [
            0x0f, 0xe3, 0x15, 0xf4, 0x02, 0x01, 0x01, 0x02, 0x04, 0x05, 0xf0, 0x61, 0x00, 0x8e, 0x29
        ]
    );
    assert_eq!(CgmMeasurement::decode(&bytes, true).unwrap(), (it, 15));
}

#[test]
fn what_is_no_record_is_told() {
    let error = |bytes: &[u8], crc| CgmMeasurement::decode(bytes, crc).unwrap_err();
    assert!(matches!(error(&[], false), RecordError::TooShort { .. }));
    assert!(matches!(
        error(&[5, 0, 0x64, 0, 5], false),
        RecordError::TooShort { .. }
    ));
    assert!(matches!(error(&PLAIN[..5], false), RecordError::TooShort { .. }));
    assert!(matches!(
        error(&[7, 0, 0x64, 0, 5, 0, 0], false),
        RecordError::Size {
            said: 7,
            announced: 6
        }
    ));
    assert!(matches!(
        error(&[6, 1, 0x64, 0, 5, 0], false),
        RecordError::TooShort { .. }
    ));
    assert!(matches!(
        error(&[6, 4, 0x64, 0, 5, 0], false),
        RecordError::Value(_)
    ));
    assert!(matches!(
        error(&[8, 0, 0x64, 0, 5, 0, 0, 0], true),
        RecordError::Checksum
    ));
    assert_eq!(
        CgmMeasurement::decode(&[6, 0, 0xff, 7, 5, 0], false)
            .unwrap()
            .0
            .said(),
        None
    );
}

/// A meter's record by hand: flags value and offset, sequence 3, 2026-03-01 07:30:00, 60 minutes on, 104 mg/dL as
/// 104 · 10^-5 kg/L (mantissa 0x068, exponent -5 is 0xB), capillary whole blood (1) from a finger (1).
#[test]
fn a_meters_record_worked_out_by_hand() {
    let bytes = [
        0x03, 0x03, 0x00, 0xea, 0x07, 3, 1, 7, 30, 0, 0x3c, 0x00, 0x68, 0xb0, 0x11,
    ];
    let it = GlucoseMeasurement::decode(&bytes).unwrap();
    assert_eq!(it.said().unwrap().to_string(), "104 mg/dL");
    assert_eq!(it.value.unwrap().1, SampleFrom { fluid: 1, place: 1 });
    assert_eq!(
        it.wall().unwrap().civil().unwrap().to_string(),
        "2026-03-01T08:30:00"
    );
    assert_eq!(it.encode().unwrap(), bytes);
    // 5.4 mmol/L as 54 · 10^-4 mol/L.
    let moles = GlucoseMeasurement {
        moles: true,
        value: Some((number(54, -4), SampleFrom { fluid: 1, place: 1 })),
        ..it
    };
    assert_eq!(moles.said().unwrap().to_string(), "5.4 mmol/L");
    for cut in 0..bytes.len() {
        assert!(GlucoseMeasurement::decode(&bytes[..cut]).is_err(), "{cut}");
    }
    let no_date = GlucoseMeasurement {
        base: BaseTime {
            year: 2026,
            parts: [2, 30, 7, 30, 0],
        },
        ..it
    };
    assert_eq!(no_date.wall(), None);
}

fn sfloat() -> impl Strategy<Value = Sfloat> {
    any::<u16>().prop_map(Sfloat::from_bits)
}

proptest! {
    #[test]
    fn a_sensors_record_comes_back(
        glucose in sfloat(), offset_min: u16, status: Option<u8>, calibration: Option<u8>, warning: Option<u8>,
        trend in proptest::option::of(sfloat()), quality in proptest::option::of(sfloat()), with_checksum: bool,
    ) {
        let it = CgmMeasurement { glucose, offset_min, status: SensorStatus { status, calibration, warning }, trend, quality };
        let bytes = it.encode(with_checksum).unwrap();
        prop_assert_eq!(CgmMeasurement::decode(&bytes, with_checksum).unwrap(), (it, bytes.len()));
        if with_checksum {
            // One bit changed on its way is always found: by the size, the flags or the checksum.
            for bit in 0..bytes.len() * 8 {
                let mut damaged = bytes.clone();
                damaged[bit / 8] ^= 1 << (bit % 8);
                prop_assert!(CgmMeasurement::decode(&damaged, true).is_err(), "bit {}", bit);
            }
        }
    }

    #[test]
    fn a_meters_record_comes_back(
        sequence: u16, year: u16, parts: [u8; 5], offset_min: Option<i16>, moles: bool, status: Option<u16>,
        value in proptest::option::of((sfloat(), 0u8..16, 0u8..16)), context_follows: bool,
    ) {
        let value = value.map(|(value, fluid, place)| (value, SampleFrom { fluid, place }));
        let it = GlucoseMeasurement { sequence, base: BaseTime { year, parts }, offset_min, value, moles, status, context_follows };
        prop_assert_eq!(GlucoseMeasurement::decode(&it.encode().unwrap()).unwrap(), it);
    }

    #[test]
    fn any_octets_are_records_or_an_error(bytes: Vec<u8>, with_checksum: bool) {
        if let Ok(all) = cgm_measurements(&bytes, with_checksum) {
            let again: Vec<u8> = all.iter().flat_map(|it| it.encode(with_checksum).unwrap()).collect();
            prop_assert_eq!(again, bytes);
        }
    }
}
