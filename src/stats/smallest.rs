//! The smallest whole number that is enough.

/// Smallest number above `too_few` and up to `most` for which `enough` holds, given that it then holds for every larger one; `None` where
/// `most` is not enough either.
///
/// # Errors
/// Those of `enough`.
pub(super) fn smallest<E>(
    too_few: u64,
    most: u64,
    enough: impl Fn(u64) -> Result<bool, E>,
) -> Result<Option<u64>, E> {
    let (mut below, mut n) = (too_few, (too_few + 1).min(most));
    while !enough(n)? {
        if n >= most {
            return Ok(None);
        }
        (below, n) = (n, n.saturating_mul(2).min(most));
    }
    while n - below > 1 {
        let middle = below + (n - below) / 2;
        if enough(middle)? {
            n = middle;
        } else {
            below = middle;
        }
    }
    Ok(Some(n))
}
