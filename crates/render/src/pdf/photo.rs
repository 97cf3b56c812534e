//! A photo for a paper: turned as the camera held it, and without what the camera wrote beside the picture.
//!
//! A JPEG goes into the file as it is, so that its metadata, place and time among them, would be sent along unseen. The segments that
//! hold them are taken out first; only the way it is to be turned is kept, as a turn. PNG and WebP are drawn anew.

use krilla::geom::Transform;
use krilla::image::Image;

/// A picture, and how it is turned (Exif 2.32, tag 0x0112: 1 to 8).
pub(super) struct Photo {
    pub(super) image: Image,
    orientation: u16,
}

impl Photo {
    /// `None` where it cannot be read.
    pub(super) fn read(bytes: &[u8]) -> Option<Self> {
        if bytes.starts_with(&[0xff, 0xd8, 0xff]) {
            let (bare, orientation) = bare(bytes)?;
            let image = Image::from_jpeg(bare.into(), false).ok()?;
            return Some(Photo { image, orientation });
        }
        let data = || bytes.to_vec().into();
        let image = Image::from_png(data(), false).or_else(|_| Image::from_webp(data(), false));
        Some(Photo {
            image: image.ok()?,
            orientation: 1,
        })
    }

    /// Width and height as they are drawn, no larger than so much, the picture's own size, and the turn.
    pub(super) fn within(&self, width: f32, height: f32) -> ((f32, f32), (f32, f32), Transform) {
        let (w, h) = self.image.size();
        let (w, h) = (w.max(1) as f32, h.max(1) as f32);
        let lies = self.orientation >= 5;
        let (seen_w, seen_h) = if lies { (h, w) } else { (w, h) };
        let scale = (width / seen_w).min(height / seen_h);
        let (seen_w, seen_h) = (seen_w * scale, seen_h * scale);
        let own = if lies { (seen_h, seen_w) } else { (seen_w, seen_h) };
        // Where the corners of the picture go, column by column of the matrix (sx, ky, kx, sy, tx, ty).
        let turn = match self.orientation {
            2 => Transform::from_row(-1.0, 0.0, 0.0, 1.0, seen_w, 0.0),
            3 => Transform::from_row(-1.0, 0.0, 0.0, -1.0, seen_w, seen_h),
            4 => Transform::from_row(1.0, 0.0, 0.0, -1.0, 0.0, seen_h),
            5 => Transform::from_row(0.0, 1.0, 1.0, 0.0, 0.0, 0.0),
            6 => Transform::from_row(0.0, 1.0, -1.0, 0.0, seen_w, 0.0),
            7 => Transform::from_row(0.0, -1.0, -1.0, 0.0, seen_w, seen_h),
            8 => Transform::from_row(0.0, -1.0, 1.0, 0.0, 0.0, seen_h),
            _ => Transform::identity(),
        };
        ((seen_w, seen_h), own, turn)
    }
}

/// A JPEG without its metadata (ITU-T T.81, annex B): application segments but for those that say how colours are meant, and
/// comments. And how it is to be turned.
fn bare(bytes: &[u8]) -> Option<(Vec<u8>, u16)> {
    let mut out = bytes.get(..2)?.to_vec();
    let mut orientation = 1;
    let mut at = 2;
    loop {
        let marker = *bytes.get(at + 1)?;
        if bytes.get(at) != Some(&0xff) {
            return None;
        }
        match marker {
            // Fill bytes may stand before a marker.
            0xff => at += 1,
            // The picture itself begins; nothing after it is looked at.
            0xda => {
                out.extend_from_slice(bytes.get(at..)?);
                return Some((out, orientation));
            }
            _ => {
                let length = usize::from(u16::from_be_bytes([*bytes.get(at + 2)?, *bytes.get(at + 3)?]));
                let segment = bytes.get(at..at + 2 + length.max(2))?;
                let body = segment.get(4..).unwrap_or_default();
                let is_metadata = matches!(marker, 0xe1 | 0xe3..=0xed | 0xef | 0xfe);
                if marker == 0xe1 && body.starts_with(b"Exif\0\0") {
                    orientation = turned(&body[6..]).unwrap_or(orientation);
                }
                if !is_metadata {
                    out.extend_from_slice(segment);
                }
                at += segment.len();
            }
        }
    }
}

/// The orientation in the first directory of a TIFF header.
fn turned(tiff: &[u8]) -> Option<u16> {
    let little = tiff.starts_with(b"II");
    let short = |at: usize| {
        let two = [*tiff.get(at)?, *tiff.get(at.checked_add(1)?)?];
        Some(if little {
            u16::from_le_bytes(two)
        } else {
            u16::from_be_bytes(two)
        })
    };
    let long = |at: usize| {
        let (a, b) = (u32::from(short(at)?), u32::from(short(at.checked_add(2)?)?));
        Some(if little { b << 16 | a } else { a << 16 | b })
    };
    let directory = usize::try_from(long(4)?).ok()?;
    let entries = usize::from(short(directory)?);
    (0..entries)
        .map(|entry| directory.saturating_add(2 + 12 * entry))
        .find(|&at| short(at) == Some(0x0112))
        .and_then(|at| short(at.saturating_add(8)))
        .filter(|turned| (1..=8).contains(turned))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Segments of a JPEG as T.81 lays them out; no picture behind them.
    fn jpeg(segments: &[(u8, &[u8])]) -> Vec<u8> {
        let mut bytes = vec![0xff, 0xd8];
        for (marker, body) in segments {
            bytes.extend([0xff, *marker]);
            bytes.extend(u16::try_from(body.len() + 2).unwrap().to_be_bytes());
            bytes.extend(*body);
        }
        bytes
    }

    fn exif(orientation: u8) -> Vec<u8> {
        let mut body = b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
        body.extend([orientation, 0, 0, 0, 0, 0, 0]);
        body.extend(b"taken at 60 N 25 E");
        body
    }

    #[test]
    fn what_the_camera_wrote_is_taken_out_and_the_turn_is_kept() {
        let exif = exif(6);
        let whole = jpeg(&[
            (0xe0, b"JFIF\0"),
            (0xe1, &exif),
            (0xe2, b"ICC_PROFILE\0"),
            (0xed, b"caption"),
            (0xfe, b"comment"),
            (0xee, b"Adobe"),
            (0xdb, b"tables"),
            (0xda, b"scan"),
        ]);
        let (bare, orientation) = bare(&whole).unwrap();
        assert_eq!(orientation, 6);
        let kept = jpeg(&[
            (0xe0, b"JFIF\0"),
            (0xe2, b"ICC_PROFILE\0"),
            (0xee, b"Adobe"),
            (0xdb, b"tables"),
            (0xda, b"scan"),
        ]);
        assert_eq!(bare, kept);
    }

    #[test]
    fn whatever_is_cut_or_bent_is_no_picture_and_no_panic() {
        let whole = jpeg(&[(0xe1, &exif(3)), (0xdb, b"tables"), (0xda, b"scan")]);
        for cut in 0..whole.len() {
            assert!(Photo::read(&whole[..cut]).is_none(), "{cut}");
        }
        for place in 2..whole.len() {
            for bit in 0..8 {
                let mut bent = whole.clone();
                bent[place] ^= 1 << bit;
                let _ = Photo::read(&bent);
            }
        }
    }
}
