//! "Did you mean": the nearest of several known words.

/// The candidate most like the word, if one is near enough to be a slip of the pen.
///
/// Letter case and the choice between `-`, `_` and a space do not count. Up to one slip in three letters is forgiven.
/// The first of equally near candidates wins.
pub fn nearest<'c>(word: &str, candidates: impl IntoIterator<Item = &'c str>) -> Option<&'c str> {
    let plain = plain(word);
    let length = plain.chars().count();
    // Nobody mistypes a name this long into another one, and comparing costs length times length.
    if length > 64 {
        return None;
    }
    let allowed = (length / 3).max(1);
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        // A difference in length is a slip for each letter; most candidates end here.
        let letters = candidate.chars().take(length + allowed + 1).count();
        if letters == 0 || letters.abs_diff(length) > allowed {
            continue;
        }
        let distance = strsim::osa_distance(&plain, &self::plain(candidate));
        // A name of one letter is near every other; only another spelling of itself is meant.
        let near = distance <= allowed && (length > 1 || distance == 0);
        if near && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

fn plain(word: &str) -> String {
    word.chars()
        .map(|letter| {
            if letter == '_' || letter == ' ' {
                '-'
            } else {
                letter
            }
        })
        .flat_map(char::to_lowercase)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_find_their_word() {
        let known = ["length", "largest-fuse", "gauge", "colour"];
        assert_eq!(nearest("lenght", known), Some("length"));
        assert_eq!(nearest("color", known), Some("colour"));
        assert_eq!(nearest("Largest_Fuse", known), Some("largest-fuse"));
        assert_eq!(nearest("bundle", known), None);
        assert_eq!(nearest("", known), None);
    }

    #[test]
    fn single_letters_are_no_slips() {
        assert_eq!(nearest("a", ["b"]), None);
        assert_eq!(nearest("A", ["a"]), Some("a"));
    }
}
