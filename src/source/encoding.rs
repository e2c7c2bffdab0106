//! Texts that are not UTF-8: what spreadsheets write.

/// The text of bytes that begin with a byte-order mark of UTF-16, of either order; `Some(None)` where they are none all the same.
pub(super) fn utf16(bytes: &[u8]) -> Option<Option<String>> {
    type Order = fn([u8; 2]) -> u16;
    let (order, rest) = match bytes {
        [0xff, 0xfe, rest @ ..] => (u16::from_le_bytes as Order, rest),
        [0xfe, 0xff, rest @ ..] => (u16::from_be_bytes as Order, rest),
        _ => return None,
    };
    if rest.len() % 2 == 1 {
        return Some(None);
    }
    let units = rest.chunks_exact(2).filter_map(|pair| Some(order(pair.try_into().ok()?)));
    Some(char::decode_utf16(units).collect::<Result<String, _>>().ok())
}

/// The text of bytes in Latin-1 (ISO/IEC 8859-1), with the sign of the euro where today's spreadsheets have it, at 0x80. Only where every byte
/// beyond ASCII is a letter or a sign that such tables hold; `None` otherwise.
pub(super) fn western(bytes: &[u8]) -> Option<String> {
    let letter = |byte: &u8| match *byte {
        b'\t' | b'\n' | b'\r' | 0x20..=0x7e => Some(char::from(*byte)),
        0x80 => Some('€'),
        0xa0 => Some(' '),
        0xa3 | 0xa7 | 0xb0 | 0xb1 | 0xb2 | 0xb3 | 0xb5 | 0xc0..=0xff => Some(char::from(*byte)),
        _ => None,
    };
    bytes.iter().map(letter).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spreadsheets_are_read() {
        let units = |order: fn(u16) -> [u8; 2], mark: [u8; 2]| -> Vec<u8> {
            mark.into_iter().chain("4,7 kΩ;µ\n".encode_utf16().flat_map(order)).collect()
        };
        for bytes in [units(u16::to_le_bytes, [0xff, 0xfe]), units(u16::to_be_bytes, [0xfe, 0xff])] {
            assert_eq!(utf16(&bytes), Some(Some("4,7 kΩ;µ\n".to_owned())));
        }
        assert_eq!(utf16(b"plain"), None);
        assert_eq!(utf16(&[0xff, 0xfe, 0x00]), Some(None));
        assert_eq!(western(b"0,12 \x80;10 \xb5F;Gr\xf6\xdfe").as_deref(), Some("0,12 €;10 µF;Größe"));
        assert_eq!(western(&[b'a', 0x01]), None);
        assert_eq!(western(&[0x9d]), None);
    }
}
