//! What must hold of any bytes at all: bodies of the fuzz targets under `fuzz/`. The tests of [`crate::block`] hold the
//! same of bytes drawn at random.

use interstice_glucose::{Censor, DAY_S, Said, Unit};

use crate::block::{pack, unpack};

/// The last day that 32 bits of seconds hold whole.
const LAST_DAY: u32 = 49_709;

/// Decoding a block: any bytes give rows of that day in time order, or an error, and what decodes is packed and
/// decoded again to the same rows. The first four bytes are the day.
pub fn block(bytes: &[u8]) {
    let Some((day, packed)) = bytes.split_first_chunk() else {
        return;
    };
    let day = u32::from_le_bytes(*day) % (LAST_DAY + 2);
    let _ = unpack(day, packed);
    // Past the checksum, where the decoder itself is met.
    let mut sealed = packed.to_vec();
    if let Some(version) = sealed.first_mut() {
        *version = 1;
    }
    sealed.extend_from_slice(&crc32fast::hash(&sealed).to_le_bytes());
    if let Ok(rows) = unpack(day, &sealed) {
        assert!(rows.len() <= sealed.len(), "a reading takes a byte at least");
        comes_back(day, &rows);
    }
}

/// Packing rows made of the bytes, eight a reading: they come back as they were said.
pub fn rows(bytes: &[u8]) {
    let Some((day, rest)) = bytes.split_first_chunk() else {
        return;
    };
    let day = u32::from_le_bytes(*day) % (LAST_DAY + 1);
    let (readings, _) = rest.as_chunks::<8>();
    let mut rows: Vec<(u32, Said)> = readings.iter().map(|reading| row(day, *reading)).collect();
    rows.sort_by_key(|row| row.0);
    if !rows.is_empty() {
        comes_back(day, &rows);
    }
}

fn comes_back(day: u32, rows: &[(u32, Said)]) {
    let again = pack(day, rows).and_then(|packed| unpack(day, &packed));
    assert_eq!(again.as_deref(), Ok(rows), "day {day}");
}

/// A reading of eight bytes: two of time, four of number (sometimes at an end of its range), two of all else.
fn row(day: u32, [s0, s1, n0, n1, n2, n3, decimals, what]: [u8; 8]) -> (u32, Said) {
    let second = u32::from(u16::from_le_bytes([s0, s1])) % DAY_S as u32;
    let small = i64::from(i32::from_le_bytes([n0, n1, n2, n3]));
    let mantissa = match what >> 4 {
        0 => i64::MAX - small.abs(),
        1 => i64::MIN + small.abs(),
        2 => small << 31,
        3 => small,
        _ => i64::from(u16::from_le_bytes([n0, n1]) % 600),
    };
    let unit = [Unit::MgPerDl, Unit::MmolPerL][usize::from(what & 1)];
    let censor = [Censor::None, Censor::None, Censor::Below, Censor::Above][usize::from(what >> 1 & 3)];
    let decimals = if what & 8 == 0 {
        decimals % 2
    } else {
        decimals % 19
    };
    let said = Said::new(mantissa, decimals, unit, censor).expect("at most 18 decimals");
    (day * DAY_S as u32 + second, said)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Drives a body over what fuzzing kept (`fuzz/run.py --keep`): inputs that reach all that it ever reached.
    fn kept(target: &str, body: fn(&[u8])) {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../../fuzz/kept")
            .join(target);
        let mut many = 0;
        for input in std::fs::read_dir(folder).unwrap() {
            let path = input.unwrap().path();
            println!("{}", path.display());
            body(&std::fs::read(path).unwrap());
            many += 1;
        }
        assert!(many > 0, "nothing is kept of {target}");
    }

    #[test]
    fn kept_inputs() {
        kept("block", block);
        kept("rows", rows);
    }

    proptest! {
        #[test]
        fn bodies_hold(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
            block(&bytes);
            rows(&bytes);
        }
    }
}
