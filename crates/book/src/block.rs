//! A packed block: the readings one source gave for one trace on one UTC day.
//!
//! A block is written once and never changed, but for that of a feed's day, which is written again with more in it
//! (`feed`). It stands alone: instants, and values exactly as the device said them.
//! Layout, version 1 (numbers are LEB128 varints unless said otherwise):
//!
//! ```text
//! version      one byte, 1
//! count        readings, at least 1
//! first        second of the day of the first reading
//! steps        until count - 1 steps are told: 2·step, or 2·step + 1 and then how many more steps are the same
//! classes      how many (unit, censor, decimals) there are; for each one byte 3·unit + censor and one byte decimals
//! runs         only with two classes or more: class and length, until count readings are told
//! values       a reading each: zigzag of the mantissa less the last one of its class (first less 0)
//! checksum     CRC-32 of all of the above, four bytes, low byte first
//! ```
//!
//! A sensor gives whole or one-decimal numbers at a steady step, so a reading costs one byte and the instants of a
//! day a handful. Values with up to three decimals share one class with the most decimals of them (10 and 10.1 are
//! 100 and 101 tenths), because a trailing zero is not kept and would otherwise make the class jump.

use interstice_glucose::{Censor, DAY_S, Level, Levels, Said, Unit};

/// The only layout there is so far.
const VERSION: u8 = 1;
/// Seconds in a UTC day, as columns count them.
const DAY_SECONDS: u32 = DAY_S as u32;
/// Bytes of the checksum.
const CHECKSUM_BYTES: usize = 4;
/// Values with at most so many decimals share a class.
const SHARED_DECIMALS: u8 = 3;
/// Mantissas up to this size can be given three more decimals without overflow.
const SHARED_MANTISSA: u64 = 1_000_000_000_000_000;
/// Mantissas below this are looked up in a table: 4,000 is 400.0 mg/dL or 400 in tenths of mmol/L.
const DENSE: usize = 8192;
/// 'Not met yet' in such a table.
const UNMET: u32 = u32::MAX;

/// Why bytes are not a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum BlockError {
    /// Written by a later version.
    #[error("block version {0} is not known")]
    Version(u8),
    /// The bytes are not those that were written.
    #[error("checksum differs")]
    Checksum,
    /// The bytes end too early, go on too long or contradict themselves.
    #[error("block does not add up at {0}")]
    Malformed(&'static str),
}

/// Packs one day of readings.
///
/// * `day`: days since 1970-01-01 (UTC), up to 49,710 (2106-02-07, when 32 bits of seconds end).
/// * `rows`: instants (seconds since 1970) inside that day, never stepping back, and their values; not empty.
///
/// # Errors
/// `Malformed` when `rows` break those terms.
pub fn pack(day: u32, rows: &[(u32, Said)]) -> Result<Vec<u8>, BlockError> {
    let mut levels = Levels::new();
    let at: Vec<u32> = rows.iter().map(|row| row.0).collect();
    let level: Vec<u32> = rows.iter().map(|row| levels.intern(row.1)).collect();
    let inside = at.iter().all(|&at| at / DAY_SECONDS == day);
    if at.is_empty() || !inside || !at.is_sorted() {
        return Err(BlockError::Malformed("the rows to pack"));
    }
    let mut out = Vec::new();
    encode(day, &at, &level, &Code::table(&levels), &mut out);
    Ok(out)
}

/// Unpacks what [`pack`] made. Total: any bytes give rows or an error, in memory proportional to their length.
///
/// # Errors
/// See [`BlockError`].
pub fn unpack(day: u32, bytes: &[u8]) -> Result<Vec<(u32, Said)>, BlockError> {
    let count = Reader::open(bytes)?.1;
    let (mut at, mut level) = (vec![0; count], vec![0; count]);
    let mut interner = Interner::new(Levels::new());
    decode(day, bytes, &mut at, &mut level, &mut interner, Repeats::Taken)?;
    let levels = interner.levels();
    Ok(at
        .into_iter()
        .zip(level)
        .map(|(at, level)| (at, levels.get(level).said))
        .collect())
}

/// A level prepared for packing.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Code {
    mantissa: i64,
    /// 3·unit + censor.
    mark: u8,
    decimals: u8,
    /// Bit 4·mark + decimals where the class can be shared, else [`Code::ODD`].
    bit: u32,
}

impl Code {
    /// Stands for all values that keep a class of their own.
    const ODD: u32 = 1 << 31;

    /// One for each level, by index.
    pub(crate) fn table(levels: &Levels) -> Vec<Code> {
        levels
            .as_slice()
            .iter()
            .map(|level: &Level| Code::of(level.said))
            .collect()
    }

    fn of(said: Said) -> Code {
        let mark = 3 * unit_number(said.unit()) + censor_number(said.censor());
        let shared = said.decimals() <= SHARED_DECIMALS && said.mantissa().unsigned_abs() <= SHARED_MANTISSA;
        let bit = if shared {
            1 << (4 * mark + said.decimals())
        } else {
            Code::ODD
        };
        Code {
            mantissa: said.mantissa(),
            mark,
            decimals: said.decimals(),
            bit,
        }
    }
}

fn unit_number(unit: Unit) -> u8 {
    match unit {
        Unit::MgPerDl => 0,
        Unit::MmolPerL => 1,
    }
}

fn censor_number(censor: Censor) -> u8 {
    match censor {
        Censor::None => 0,
        Censor::Below => 1,
        Censor::Above => 2,
    }
}

/// A class of values in one block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Class {
    mark: u8,
    decimals: u8,
}

impl Class {
    fn said(self, mantissa: i64) -> Option<Said> {
        let unit = if self.mark < 3 {
            Unit::MgPerDl
        } else {
            Unit::MmolPerL
        };
        let censor = match self.mark % 3 {
            0 => Censor::None,
            1 => Censor::Below,
            _ => Censor::Above,
        };
        Said::new(mantissa, self.decimals, unit, censor).ok()
    }
}

/// Packs one day, whose terms the caller has seen to: not empty, in time order, all inside `day`, levels within
/// `codes`. Appends to `out`.
pub(crate) fn encode(day: u32, at: &[u32], level: &[u32], codes: &[Code], out: &mut Vec<u8>) {
    let start = out.len();
    out.reserve(level.len() + level.len() / 8 + 32);
    out.push(VERSION);
    put(out, at.len() as u64);
    encode_instants(day, at, out);
    encode_values(level, codes, out);
    let checksum = crc32fast::hash(&out[start..]);
    out.extend_from_slice(&checksum.to_le_bytes());
}

fn encode_instants(day: u32, at: &[u32], out: &mut Vec<u8>) {
    put(out, u64::from(at[0] - day * DAY_SECONDS));
    let mut i = 1;
    while i < at.len() {
        let step = at[i] - at[i - 1];
        let more = at[i..]
            .windows(2)
            .take_while(|pair| pair[1] - pair[0] == step)
            .count();
        if more == 0 {
            put(out, u64::from(step) << 1);
        } else {
            put(out, (u64::from(step) << 1) | 1);
            put(out, more as u64);
        }
        i += 1 + more;
    }
}

fn encode_values(level: &[u32], codes: &[Code], out: &mut Vec<u8>) {
    let seen = level
        .iter()
        .fold(0, |seen, &level| seen | codes[level as usize].bit);
    let widest = widest_decimals(seen);
    let mut classes: Vec<Class> = (0..6u8)
        .filter(|&mark| seen >> (4 * mark) & 0xf != 0)
        .map(|mark| Class {
            mark,
            decimals: widest[usize::from(mark)],
        })
        .collect();
    if seen & Code::ODD != 0 {
        add_odd_classes(level, codes, &mut classes);
    }
    put(out, classes.len() as u64);
    for class in &classes {
        out.extend_from_slice(&[class.mark, class.decimals]);
    }
    match classes.as_slice() {
        [only] => encode_one_class(level, codes, only.decimals, out),
        many => encode_many_classes(level, codes, &widest, many, out),
    }
}

/// Most decimals seen for each mark, of the values that share a class.
fn widest_decimals(seen: u32) -> [u8; 6] {
    std::array::from_fn(|mark| {
        let decimals = seen >> (4 * mark) & 0xf;
        (0..4).rev().find(|d| decimals >> d & 1 == 1).unwrap_or(0)
    })
}

fn add_odd_classes(level: &[u32], codes: &[Code], classes: &mut Vec<Class>) {
    for code in level
        .iter()
        .map(|&level| codes[level as usize])
        .filter(|code| code.bit == Code::ODD)
    {
        let class = Class {
            mark: code.mark,
            decimals: code.decimals,
        };
        if !classes.contains(&class) {
            classes.push(class);
        }
    }
}

fn encode_one_class(level: &[u32], codes: &[Code], decimals: u8, out: &mut Vec<u8>) {
    // Factor by the decimals a value has; a lone odd class has values of its own decimals only.
    let factor: [i64; 19] =
        std::array::from_fn(|own| 10_i64.pow(u32::from(decimals.saturating_sub(own as u8))));
    let mut last = 0_i64;
    for &level in level {
        let code = codes[level as usize];
        let mantissa = code.mantissa.wrapping_mul(factor[usize::from(code.decimals)]);
        put(out, zigzag(mantissa.wrapping_sub(last)));
        last = mantissa;
    }
}

fn encode_many_classes(
    level: &[u32],
    codes: &[Code],
    widest: &[u8; 6],
    classes: &[Class],
    out: &mut Vec<u8>,
) {
    let class_of = |code: Code| {
        let decimals = if code.bit == Code::ODD {
            code.decimals
        } else {
            widest[usize::from(code.mark)]
        };
        let wanted = Class {
            mark: code.mark,
            decimals,
        };
        classes
            .iter()
            .position(|&class| class == wanted)
            .expect("every class of the day was collected")
    };
    let of: Vec<usize> = level
        .iter()
        .map(|&level| class_of(codes[level as usize]))
        .collect();
    for run in of.chunk_by(|a, b| a == b) {
        put(out, run[0] as u64);
        put(out, run.len() as u64);
    }
    let mut last = vec![0_i64; classes.len()];
    for (&level, &class) in level.iter().zip(&of) {
        let code = codes[level as usize];
        let mantissa = code
            .mantissa
            .wrapping_mul(10_i64.pow(u32::from(classes[class].decimals - code.decimals)));
        put(out, zigzag(mantissa.wrapping_sub(last[class])));
        last[class] = mantissa;
    }
}

/// Levels met while unpacking, with tables from mantissa to level for the common classes.
#[derive(Debug)]
pub(crate) struct Interner {
    levels: Levels,
    tables: [Option<Box<[u32]>>; 24],
}

impl Interner {
    /// Goes on from levels met before.
    pub(crate) fn new(levels: Levels) -> Self {
        Interner {
            levels,
            tables: std::array::from_fn(|_| None),
        }
    }

    pub(crate) fn levels(self) -> Levels {
        self.levels
    }

    pub(crate) fn intern(&mut self, said: Said) -> u32 {
        self.levels.intern(said)
    }

    /// Decodes `level.len()` values of one class, going on from the class's last one.
    fn values(
        &mut self,
        class: Class,
        reader: &mut Reader<'_>,
        level: &mut [u32],
        last: &mut i64,
    ) -> Result<(), BlockError> {
        if class.decimals > SHARED_DECIMALS {
            return self.odd_values(class, reader, level, last);
        }
        let slot = &mut self.tables[usize::from(4 * class.mark + class.decimals)];
        let table = slot.get_or_insert_with(|| vec![UNMET; DENSE].into_boxed_slice());
        for out in level {
            *last = last.wrapping_add(unzigzag(reader.number("values")?));
            let met = usize::try_from(*last).ok().and_then(|m| table.get_mut(m));
            *out = match met {
                Some(&mut index) if index != UNMET => index,
                met => {
                    let said = class.said(*last).ok_or(BlockError::Malformed("decimals"))?;
                    let index = self.levels.intern(said);
                    if let Some(met) = met {
                        *met = index;
                    }
                    index
                }
            };
        }
        Ok(())
    }

    fn odd_values(
        &mut self,
        class: Class,
        reader: &mut Reader<'_>,
        level: &mut [u32],
        last: &mut i64,
    ) -> Result<(), BlockError> {
        for out in level {
            *last = last.wrapping_add(unzigzag(reader.number("values")?));
            *out = self
                .levels
                .intern(class.said(*last).ok_or(BlockError::Malformed("decimals"))?);
        }
        Ok(())
    }
}

/// How many readings a block says it holds. Its checksum is looked at when it is unpacked; until then the number is
/// only known to be no more than its bytes.
pub(crate) fn claimed_count(bytes: &[u8]) -> Result<usize, BlockError> {
    Ok(Reader::unchecked(bytes)?.1)
}

/// What to do with a block that tells of one instant twice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Repeats {
    /// Unpack it like any other.
    Taken,
    /// Leave its values alone: whoever merges them will unpack it again.
    Left,
}

/// Unpacks one day into columns whose length is the block's count. Answers whether the instants are strictly
/// increasing.
pub(crate) fn decode(
    day: u32,
    bytes: &[u8],
    at: &mut [u32],
    level: &mut [u32],
    interner: &mut Interner,
    repeats: Repeats,
) -> Result<bool, BlockError> {
    let (mut reader, count) = Reader::open(bytes)?;
    if at.len() != count || level.len() != count {
        return Err(BlockError::Malformed("count"));
    }
    let strict = decode_instants(day, &mut reader, at)?;
    if !strict && repeats == Repeats::Left {
        return Ok(false);
    }
    decode_values(&mut reader, level, interner)?;
    if reader.left() != 0 {
        return Err(BlockError::Malformed("end"));
    }
    Ok(strict)
}

fn decode_instants(day: u32, reader: &mut Reader<'_>, at: &mut [u32]) -> Result<bool, BlockError> {
    const WHERE: BlockError = BlockError::Malformed("instants");
    let start = u64::from(day) * u64::from(DAY_SECONDS);
    let mut second = reader.number("instants")?;
    if second >= u64::from(DAY_SECONDS) {
        return Err(WHERE);
    }
    let instant = |second: u64| u32::try_from(start + second).map_err(|_| WHERE);
    at[0] = instant(second)?;
    let (mut i, mut strict) = (1, true);
    while i < at.len() {
        let token = reader.number("instants")?;
        let (step, more) = (
            token >> 1,
            if token & 1 == 1 {
                reader.number("instants")?
            } else {
                0
            },
        );
        let end = usize::try_from(more)
            .ok()
            .and_then(|more| (i + 1).checked_add(more))
            .ok_or(WHERE)?;
        let run = at.get_mut(i..end).ok_or(WHERE)?;
        let last = step
            .checked_mul(more + 1)
            .and_then(|d| d.checked_add(second))
            .ok_or(WHERE)?;
        if last >= u64::from(DAY_SECONDS) {
            return Err(WHERE);
        }
        instant(last)?;
        strict &= step > 0;
        let (mut now, step) = (instant(second)?, u32::try_from(step).map_err(|_| WHERE)?);
        for out in run {
            now += step;
            *out = now;
        }
        (i, second) = (end, last);
    }
    Ok(strict)
}

fn decode_values(
    reader: &mut Reader<'_>,
    level: &mut [u32],
    interner: &mut Interner,
) -> Result<(), BlockError> {
    let classes = decode_classes(reader)?;
    if let [only] = classes.as_slice() {
        return interner.values(*only, reader, level, &mut 0);
    }
    let (mut runs, mut left) = (Vec::new(), level.len());
    while left > 0 {
        let class = usize::try_from(reader.number("runs")?).unwrap_or(usize::MAX);
        let length = usize::try_from(reader.number("runs")?).unwrap_or(usize::MAX);
        if class >= classes.len() || length == 0 || length > left {
            return Err(BlockError::Malformed("runs"));
        }
        runs.push((class, length));
        left -= length;
    }
    let (mut last, mut level) = (vec![0_i64; classes.len()], level);
    for (class, length) in runs {
        let (here, rest) = level.split_at_mut(length);
        interner.values(classes[class], reader, here, &mut last[class])?;
        level = rest;
    }
    Ok(())
}

fn decode_classes(reader: &mut Reader<'_>) -> Result<Vec<Class>, BlockError> {
    const WHERE: BlockError = BlockError::Malformed("classes");
    let count = usize::try_from(reader.number("classes")?).map_err(|_| WHERE)?;
    if count == 0 || count > reader.left() / 2 {
        return Err(WHERE);
    }
    let mut classes = Vec::with_capacity(count);
    for _ in 0..count {
        let class = Class {
            mark: reader.byte("classes")?,
            decimals: reader.byte("classes")?,
        };
        if class.mark >= 6 || class.decimals > 18 {
            return Err(WHERE);
        }
        classes.push(class);
    }
    Ok(classes)
}

/// Walks the bytes of a block.
struct Reader<'a> {
    bytes: &'a [u8],
    next: usize,
}

impl<'a> Reader<'a> {
    /// Checks version and checksum and reads the count.
    fn open(bytes: &'a [u8]) -> Result<(Self, usize), BlockError> {
        let (reader, count) = Reader::unchecked(bytes)?;
        if bytes[reader.bytes.len()..] != crc32fast::hash(reader.bytes).to_le_bytes() {
            return Err(BlockError::Checksum);
        }
        Ok((reader, count))
    }

    /// Checks the version and reads the count. A reading takes a byte at least, which bounds what a damaged count
    /// can ask for.
    fn unchecked(bytes: &'a [u8]) -> Result<(Self, usize), BlockError> {
        let body = bytes
            .len()
            .checked_sub(CHECKSUM_BYTES)
            .ok_or(BlockError::Malformed("end"))?;
        let body = &bytes[..body];
        match body.first() {
            None => return Err(BlockError::Malformed("end")),
            Some(&VERSION) => {}
            Some(&other) => return Err(BlockError::Version(other)),
        }
        let mut reader = Reader { bytes: body, next: 1 };
        let count = usize::try_from(reader.number("count")?).unwrap_or(usize::MAX);
        if count == 0 || count > reader.left() {
            return Err(BlockError::Malformed("count"));
        }
        Ok((reader, count))
    }

    fn left(&self) -> usize {
        self.bytes.len() - self.next
    }

    #[inline]
    fn byte(&mut self, part: &'static str) -> Result<u8, BlockError> {
        let byte = *self.bytes.get(self.next).ok_or(BlockError::Malformed(part))?;
        self.next += 1;
        Ok(byte)
    }

    #[inline]
    fn number(&mut self, part: &'static str) -> Result<u64, BlockError> {
        let byte = self.byte(part)?;
        if byte < 0x80 {
            Ok(u64::from(byte))
        } else {
            self.long_number(byte, part)
        }
    }

    fn long_number(&mut self, first: u8, part: &'static str) -> Result<u64, BlockError> {
        let mut number = u64::from(first & 0x7f);
        for shift in (7..64).step_by(7) {
            let byte = self.byte(part)?;
            let bits = u64::from(byte & 0x7f);
            if shift == 63 && bits > 1 {
                break;
            }
            number |= bits << shift;
            if byte < 0x80 {
                return Ok(number);
            }
        }
        Err(BlockError::Malformed(part))
    }
}

#[inline]
fn put(out: &mut Vec<u8>, mut number: u64) {
    while number >= 0x80 {
        out.push(number as u8 | 0x80);
        number >>= 7;
    }
    out.push(number as u8);
}

fn zigzag(number: i64) -> u64 {
    ((number << 1) ^ (number >> 63)) as u64
}

fn unzigzag(number: u64) -> i64 {
    (number >> 1) as i64 ^ -((number & 1) as i64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_said() -> impl Strategy<Value = Said> {
        let unit = prop_oneof![Just(Unit::MgPerDl), Just(Unit::MmolPerL)];
        let censor = prop_oneof![8 => Just(Censor::None), 1 => Just(Censor::Below), 1 => Just(Censor::Above)];
        let number = prop_oneof![
            8 => (0..6000_i64, 0..=1_u8),
            1 => (any::<i64>(), 0..=18_u8),
            1 => (prop_oneof![Just(i64::MIN), Just(i64::MAX)], 0..=18_u8),
        ];
        (number, unit, censor).prop_map(|((m, d), unit, censor)| Said::new(m, d, unit, censor).unwrap())
    }

    proptest! {
        #[test]
        fn a_day_comes_back_as_it_was_said(
            day in 0..49_710_u32,
            rows in prop::collection::vec((0..DAY_SECONDS, any_said()), 1..300),
        ) {
            let mut rows: Vec<_> = rows.into_iter().map(|(s, said)| (day * DAY_SECONDS + s, said)).collect();
            rows.sort_by_key(|row| row.0);
            let bytes = pack(day, &rows).unwrap();
            prop_assert_eq!(unpack(day, &bytes).unwrap(), rows);
        }

        #[test]
        fn arbitrary_bytes_never_panic(mut bytes in prop::collection::vec(any::<u8>(), 0..200), day: u32) {
            let _ = unpack(day, &bytes);
            // Past the checksum, where the decoder itself is met.
            if let Some(first) = bytes.first_mut() {
                *first = VERSION;
            }
            let checksum = crc32fast::hash(&bytes);
            bytes.extend_from_slice(&checksum.to_le_bytes());
            if let Ok(rows) = unpack(day, &bytes) {
                prop_assert!(rows.len() <= bytes.len());
                prop_assert!(rows.is_sorted_by_key(|row| row.0));
                prop_assert!(rows.iter().all(|row| row.0 / DAY_SECONDS == day));
            }
        }

        #[test]
        fn one_wrong_bit_is_noticed(bit in 0..8_usize, place in 0..400_usize) {
            let rows: Vec<_> = (0..288).map(|i| (i * 300, Said::whole_mg_per_dl(i64::from(100 + i % 40)))).collect();
            let mut bytes = pack(0, &rows).unwrap();
            let place = place % bytes.len();
            bytes[place] ^= 1 << bit;
            prop_assert!(unpack(0, &bytes).is_err());
        }
    }

    #[test]
    fn a_steady_day_costs_a_byte_a_reading() {
        let rows: Vec<_> = (0..1440)
            .map(|i| (i * 60, Said::whole_mg_per_dl(i64::from(100 + i % 60))))
            .collect();
        assert!(pack(0, &rows).unwrap().len() < 1440 + 24);
        let tenths: Vec<_> = (0..288)
            .map(|i| {
                (
                    i * 300,
                    Said::new(i64::from(50 + i % 60), 1, Unit::MmolPerL, Censor::None).unwrap(),
                )
            })
            .collect();
        assert!(pack(0, &tenths).unwrap().len() < 288 + 24);
    }

    #[test]
    fn rows_out_of_order_or_of_another_day_are_refused() {
        let said = Said::whole_mg_per_dl(100);
        assert!(pack(0, &[]).is_err());
        assert!(pack(0, &[(5, said), (4, said)]).is_err());
        assert!(pack(1, &[(5, said)]).is_err());
    }
}
