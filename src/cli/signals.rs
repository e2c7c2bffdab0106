//! What happens when somebody wants the program to end.

use std::process::exit;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

use indicatif::ProgressBar;

/// Held while a file is written beside its place: an end in between would leave that file behind.
static WRITING: Mutex<()> = Mutex::new(());
/// Whether somebody wants an end and waits for [`WRITING`].
static ENDING: AtomicBool = AtomicBool::new(false);
/// The bar to take off the screen.
static BAR: Mutex<Option<ProgressBar>> = Mutex::new(None);

/// Puts off an end until what is returned is dropped.
pub fn put_off() -> MutexGuard<'static, ()> {
    WRITING.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Whether somebody wants the program to end: whoever puts that off and is not done soon should stop.
pub fn is_ending() -> bool {
    ENDING.load(Ordering::Relaxed)
}

/// Waits for the end, where somebody wants it.
pub fn give_way() {
    while is_ending() {
        std::thread::park();
    }
}

/// Takes this bar away when the program ends early.
pub fn clear_at_end(bar: ProgressBar) {
    *BAR.lock().unwrap_or_else(PoisonError::into_inner) = Some(bar);
}

/// Ends with the status that a shell gives to a signal.
fn end(signal: i32) -> ! {
    ENDING.store(true, Ordering::Relaxed);
    let _never_released = put_off();
    if let Some(bar) = BAR.lock().unwrap_or_else(PoisonError::into_inner).take() {
        bar.finish_and_clear();
    }
    exit(128 + signal)
}

/// Looks after interrupts and terminations from now on. Without it they end the program all the same, only less tidily.
#[cfg(unix)]
pub fn watch() {
    use signal_hook::consts::{SIGINT, SIGTERM};
    use signal_hook::iterator::Signals;
    if let Ok(mut signals) = Signals::new([SIGINT, SIGTERM]) {
        std::thread::spawn(move || {
            if let Some(signal) = signals.forever().next() {
                end(signal);
            }
        });
    }
}

#[cfg(not(unix))]
pub fn watch() {
    const INTERRUPT: i32 = 2;
    let _ = ctrlc::set_handler(|| end(INTERRUPT));
}
