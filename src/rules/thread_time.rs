//! How long this thread has worked: a guard by the clock on the wall would break sound rules on a
//! busy machine.

use std::time::Duration;

/// Processor time that this thread has used.
#[cfg(unix)]
pub(super) fn worked() -> Duration {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    let part = |n: i64| u64::try_from(n).unwrap_or(0);
    Duration::from_secs(part(now.tv_sec)) + Duration::from_nanos(part(now.tv_nsec))
}

/// Time on the clock, where a thread's own is not to be had.
#[cfg(not(unix))]
pub(super) fn worked() -> Duration {
    use std::sync::OnceLock;
    use std::time::Instant;
    static START: OnceLock<Instant> = OnceLock::new();
    START.get_or_init(Instant::now).elapsed()
}
