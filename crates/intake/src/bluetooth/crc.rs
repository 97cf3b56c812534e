//! The end-to-end checksum: polynomial D16 + D12 + D5 + 1, start 0xFFFF, low bit first (from memory; the check value below is
//! that of this checksum in public tables).

/// Of some octets.
pub(super) fn crc(bytes: &[u8]) -> u16 {
    let mut crc = 0xffff_u16;
    for &byte in bytes {
        crc ^= u16::from(byte);
        for _ in 0..8 {
            let carry = crc & 1;
            crc >>= 1;
            if carry == 1 {
                // D12 and D5 and 1, mirrored.
                crc ^= 0x8408;
            }
        }
    }
    crc
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_check_value_is_that_of_public_tables() {
        assert_eq!(super::crc(b"123456789"), 0x6f91);
        assert_eq!(super::crc(b""), 0xffff);
    }
}
