//! Units as written beside or below a name.

pub(super) fn without_brackets(cell: &str) -> &str {
    let cell = cell.trim();
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some(inner) = cell
            .strip_prefix(open)
            .and_then(|rest| rest.strip_suffix(close))
        {
            return inner.trim();
        }
    }
    cell
}
