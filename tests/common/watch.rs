//! Waits for a program and sees what it uses.

use std::process::Child;
use std::time::{Duration, Instant};
use std::{fs, thread};

/// What a run used.
pub(crate) struct Used {
    /// None when a signal or the clock ended it.
    pub(crate) code: Option<i32>,
    pub(crate) peak_kb: u64,
}

/// Waits, looking often: the peak is that of the last look.
pub(crate) fn watch(child: &mut Child, clock: Duration) -> Result<Used, String> {
    let begun = Instant::now();
    let mut used = Used { code: None, peak_kb: 0 };
    loop {
        if let Some(status) = child.try_wait().map_err(|e| e.to_string())? {
            return Ok(Used { code: status.code(), ..used });
        }
        used.peak_kb = used.peak_kb.max(peak_kb(child.id()).unwrap_or(0));
        if begun.elapsed() > clock {
            let _ = child.kill();
            let _ = child.wait();
            return Ok(used);
        }
        thread::sleep(Duration::from_millis(2));
    }
}

fn peak_kb(id: u32) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{id}/status")).ok()?;
    status.lines().find_map(|l| l.strip_prefix("VmHWM:"))?.split_whitespace().next()?.parse().ok()
}
