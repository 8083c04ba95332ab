//! Bytes as text, RFC 4648 section 4: a photo rides in its page between two taps.

const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

/// Bytes as text.
pub(crate) fn encode(bytes: &[u8]) -> String {
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let word = three.iter().enumerate().fold(0_u32, |w, (i, b)| w | u32::from(*b) << (16 - 8 * i));
        for k in 0..4 {
            let letter = LETTERS[(word >> (18 - 6 * k)) as usize & 63];
            out.push(if k <= three.len() { char::from(letter) } else { '=' });
        }
    }
    out
}

/// The bytes of a text; `None` when it is none.
pub(crate) fn decode(text: &str) -> Option<Vec<u8>> {
    let text = text.as_bytes();
    if !text.len().is_multiple_of(4) {
        return None;
    }
    let mut out = Vec::with_capacity(text.len() / 4 * 3);
    let last = (text.len() / 4).saturating_sub(1);
    for (i, four) in text.chunks(4).enumerate() {
        let filled = if i == last { four.iter().rposition(|c| *c != b'=').map_or(0, |p| p + 1) } else { 4 };
        if filled < 2 {
            return None;
        }
        let mut word = 0_u32;
        for (k, c) in four[..filled].iter().enumerate() {
            word |= (LETTERS.iter().position(|l| l == c)? as u32) << (18 - 6 * k);
        }
        out.extend(&word.to_be_bytes()[1..filled]);
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_vectors_of_the_standard() {
        // RFC 4648, section 10.
        for (bytes, text) in
            [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foob", "Zm9vYg=="), ("fooba", "Zm9vYmE="), ("foobar", "Zm9vYmFy")]
        {
            assert_eq!(encode(bytes.as_bytes()), text);
            assert_eq!(decode(text).unwrap(), bytes.as_bytes());
        }
        for bad in ["Z", "Zg=", "Zg==Zg==", "Z===", "Zm9v!A==", "Zm8=\n"] {
            assert_eq!(decode(bad), None, "{bad}");
        }
        let all: Vec<u8> = (0..=255).collect();
        assert_eq!(decode(&encode(&all)).unwrap(), all);
    }
}
