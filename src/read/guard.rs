//! A parser of others, kept from taking the program down: some damaged workbooks make it panic.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook, take_hook};
use std::sync::Once;

thread_local! {
    /// True while this thread parses, so that a panic there prints nothing.
    static QUIET: Cell<bool> = const { Cell::new(false) };
}

static HOOK: Once = Once::new();

/// What `parse` gives; `None` where it panicked. What it worked on must not be relied on then.
pub(crate) fn guarded<T>(parse: impl FnOnce() -> T) -> Option<T> {
    HOOK.call_once(|| {
        let usual = take_hook();
        set_hook(Box::new(move |about| {
            if !QUIET.get() {
                usual(about);
            }
        }));
    });
    let before = QUIET.replace(true);
    let given = catch_unwind(AssertUnwindSafe(parse)).ok();
    QUIET.set(before);
    given
}

#[cfg(test)]
#[allow(clippy::panic)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_is_caught_and_what_comes_after_it_is_not_quiet() {
        assert_eq!(guarded(|| 7), Some(7));
        assert_eq!(guarded(|| -> i32 { panic!("damaged") }), None);
        assert!(!QUIET.get());
    }
}
