//! The signatures of the host's words, taken apart.

/// The words of a signature: commas and blanks between brackets part nothing.
pub fn parts(signature: &str) -> Vec<&str> {
    let mut parts = Vec::new();
    let (mut depth, mut start) = (0i32, 0usize);
    for (at, c) in signature.char_indices() {
        match c {
            '(' | '[' | '{' => depth += 1,
            ')' | ']' | '}' => depth -= 1,
            ',' if depth == 0 => {
                parts.push(signature.get(start..at).unwrap_or("").trim());
                start = at + 1;
            }
            _ => {}
        }
    }
    parts.push(signature.get(start..).unwrap_or("").trim());
    parts.retain(|p| !p.is_empty());
    // `abs(x) floor(x)`: several in a row, each a call of its own.
    parts
        .into_iter()
        .flat_map(|p| if p.matches(") ").count() > 1 { p.split(' ').collect() } else { vec![p] })
        .collect()
}

#[cfg(test)]
#[path = "../../../tests/unit/app/writing/signatures.rs"]
mod tests;
