//! How a long job tells its caller how far it is. The library itself never prints.

/// Told how many steps there are and how many more are done; may be called from several threads.
pub trait Progress: Sync {
    /// So many more steps are to be done.
    fn expect(&self, steps: u64);
    /// So many more steps are done.
    fn advance(&self, steps: u64);
}

/// The silent one.
impl Progress for () {
    fn expect(&self, _steps: u64) {}
    fn advance(&self, _steps: u64) {}
}
