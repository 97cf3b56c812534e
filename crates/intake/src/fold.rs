//! Words made comparable: lower case, no accents.

/// Lower case with accents dropped: 'Glykämie' → 'glykamie', 'Øl' → 'ol', 'ß' → 'ss'. Other scripts stay as they are.
pub(crate) fn fold(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            'A'..='Z' => out.push(c.to_ascii_lowercase()),
            '\0'..='\x7f' => out.push(c),
            'à' | 'á' | 'â' | 'ã' | 'ä' | 'å' | 'À' | 'Á' | 'Â' | 'Ã' | 'Ä' | 'Å' => {
                out.push('a')
            }
            'è' | 'é' | 'ê' | 'ë' | 'È' | 'É' | 'Ê' | 'Ë' => out.push('e'),
            'ì' | 'í' | 'î' | 'ï' | 'Ì' | 'Í' | 'Î' | 'Ï' => out.push('i'),
            'ò' | 'ó' | 'ô' | 'õ' | 'ö' | 'ø' | 'Ò' | 'Ó' | 'Ô' | 'Õ' | 'Ö' | 'Ø' => {
                out.push('o')
            }
            'ù' | 'ú' | 'û' | 'ü' | 'Ù' | 'Ú' | 'Û' | 'Ü' => out.push('u'),
            'ç' | 'Ç' => out.push('c'),
            'ñ' | 'Ñ' => out.push('n'),
            'ý' | 'ÿ' | 'Ý' => out.push('y'),
            'æ' | 'Æ' => out.push_str("ae"),
            'œ' | 'Œ' => out.push_str("oe"),
            'ß' => out.push_str("ss"),
            _ => out.extend(c.to_lowercase()),
        }
    }
    out
}

/// The folded words of a text: runs of letters, split also where 'camelCase' turns and where digits begin or end.
pub(crate) fn words(text: &str) -> Vec<String> {
    let (mut out, mut word, mut last) = (Vec::new(), String::new(), ' ');
    for c in text.chars() {
        let turns = last.is_lowercase() && c.is_uppercase();
        if !c.is_alphabetic() || turns {
            push(&mut out, &mut word);
        }
        if c.is_alphabetic() {
            word.push(c);
        }
        last = c;
    }
    push(&mut out, &mut word);
    out
}

fn push(out: &mut Vec<String>, word: &mut String) {
    if !word.is_empty() {
        out.push(fold(word));
        word.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_headings() {
        assert_eq!(words("Blutzucker [mmol/L]"), ["blutzucker", "mmol", "l"]);
        assert_eq!(words("sensorGlucose_mgdl"), ["sensor", "glucose", "mgdl"]);
        assert_eq!(words("Päivämäärä"), ["paivamaara"]);
    }
}
