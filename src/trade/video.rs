//! Video: the pixel clock that a mode needs, and the bandwidth of that.
//!
//! The three ways to time a mode are the coordinated video timings: standard, with reduced
//! blanking, and with reduced blanking version 2. The formulas and their constants are from memory
//! of the standard (VESA CVT 1.2 and its 2013 update) where no source is named; the results agree
//! with a reference decoder on every mode of two recorded lists (see the outside checks).

use super::TradeError;
use super::error::{above_zero, within};

/// Which of the coordinated timings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Timing {
    /// Blanking as a tube needs it: the most clock.
    Standard,
    /// Reduced blanking: 160 pixels a line.
    Reduced,
    /// Reduced blanking, version 2: 80 pixels a line, and a clock in steps of 1 kHz.
    Reduced2,
}

/// What a mode needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mode {
    /// Pixel clock in MHz.
    pub clock_mhz: f64,
    /// Pixels a line, blanking included.
    pub total_width: f64,
    /// Lines a frame, blanking included.
    pub total_height: f64,
}

impl Mode {
    /// Frames a second that the clock really gives, a little under what was asked, because the
    /// clock is cut to its step.
    pub fn refresh_hz(&self) -> f64 {
        self.clock_mhz * 1e6 / (self.total_width * self.total_height)
    }

    /// Bandwidth in Gbit/s at so many bits a pixel, without a link's coding: 24 for 8 bits a
    /// colour, 30 for 10.
    pub fn gbps(&self, bits_per_pixel: f64) -> f64 {
        self.clock_mhz * bits_per_pixel / 1000.0
    }
}

/// The timing of a mode, progressive and without margins.
/// Errors: a width or height outside 8 to 32768, a refresh rate outside 1 Hz to 1000 Hz, and one so
/// high that its blanking has no room.
pub fn mode(width: u32, height: u32, refresh_hz: f64, timing: Timing) -> Result<Mode, TradeError> {
    let lines = within("height in lines", f64::from(height), 8.0, 32_768.0, "8 to 32768")?;
    let pixels = within("width in pixels", f64::from(width), 8.0, 32_768.0, "8 to 32768")?;
    let hz = within("refresh rate in Hz", refresh_hz, 1.0, 1000.0, "1 to 1000")?;
    match timing {
        Timing::Standard => standard(whole_cells(pixels), lines, hz, sync_lines(width, height)),
        Timing::Reduced => reduced(
            whole_cells(pixels),
            lines,
            hz,
            &REDUCED,
            REDUCED.front + sync_lines(width, height) + BACK_PORCH_LINES,
        ),
        Timing::Reduced2 => {
            reduced(pixels, lines, hz, &REDUCED2, REDUCED2.front + 8.0 + REDUCED2_BACK_LINES)
        }
    }
}

/// Width and blanking of the first two timings come in cells of this many pixels: a width of 1366
/// is timed as 1360.
const CELL: f64 = 8.0;
/// Least lines after the vertical sync. Kernel `v4l2-dv-timings` and edid-decode say 7, kernel DRM
/// and X say 6 (all read); it only tells at low refresh rates.
const BACK_PORCH_LINES: f64 = 7.0;
/// Lines after the vertical sync of reduced blanking, version 2.
const REDUCED2_BACK_LINES: f64 = 6.0;
/// Lines before the vertical sync of the standard timing.
const FRONT_PORCH_LINES: f64 = 3.0;
/// Least time of vertical sync and back porch of the standard timing, in µs.
const SYNC_AND_BACK_US: f64 = 550.0;
/// Least vertical blanking of the reduced timings, in µs.
const REDUCED_BLANK_US: f64 = 460.0;

fn whole_cells(pixels: f64) -> f64 {
    (pixels / CELL).floor() * CELL
}

/// Lines of vertical sync, which tell the picture's shape: 4 for 4:3, 5 for 16:9, 6 for 16:10, 7
/// for 5:4 and 15:9, 10 for any other.
fn sync_lines(width: u32, height: u32) -> f64 {
    let is = |across: u64, down: u64| u64::from(width) * down == u64::from(height) * across;
    match () {
        () if is(4, 3) => 4.0,
        () if is(16, 9) => 5.0,
        () if is(16, 10) => 6.0,
        () if is(5, 4) || is(15, 9) => 7.0,
        () => 10.0,
    }
}

/// Cut to a whole number of steps. A hair is added first, so that a clock that is a whole number of
/// steps but for rounding stays.
fn cut(value: f64, step: f64) -> f64 {
    (value / step + 1e-9).floor() * step
}

fn standard(pixels: f64, lines: f64, hz: f64, sync: f64) -> Result<Mode, TradeError> {
    let line_us = above_zero(
        "time left for a line in µs",
        (1e6 / hz - SYNC_AND_BACK_US) / (lines + FRONT_PORCH_LINES),
    )?;
    let sync_and_back = ((SYNC_AND_BACK_US / line_us).floor() + 1.0).max(sync + BACK_PORCH_LINES);
    let duty_pct = (30.0 - 300.0 * line_us / 1000.0).max(20.0);
    let blank = (pixels * duty_pct / (100.0 - duty_pct) / (2.0 * CELL)).floor() * 2.0 * CELL;
    let total_width = pixels + blank;
    Ok(Mode {
        clock_mhz: cut(total_width / line_us, 0.25),
        total_width,
        total_height: lines + sync_and_back + FRONT_PORCH_LINES,
    })
}

/// What tells the two reduced timings apart.
struct Blanking {
    /// Pixels of blanking a line.
    pixels: f64,
    /// Least lines before the vertical sync.
    front: f64,
    /// Step of the clock in MHz.
    step_mhz: f64,
}

const REDUCED: Blanking = Blanking { pixels: 160.0, front: 3.0, step_mhz: 0.25 };
const REDUCED2: Blanking = Blanking { pixels: 80.0, front: 1.0, step_mhz: 0.001 };

fn reduced(
    pixels: f64,
    lines: f64,
    hz: f64,
    blanking: &Blanking,
    least_lines: f64,
) -> Result<Mode, TradeError> {
    let line_us = above_zero("time left for a line in µs", (1e6 / hz - REDUCED_BLANK_US) / lines)?;
    let blank_lines = ((REDUCED_BLANK_US / line_us).floor() + 1.0).max(least_lines);
    let (total_width, total_height) = (pixels + blanking.pixels, lines + blank_lines);
    Ok(Mode {
        clock_mhz: cut(hz * total_width * total_height / 1e6, blanking.step_mhz),
        total_width,
        total_height,
    })
}

#[cfg(test)]
#[path = "../../tests/unit/trade/video.rs"]
mod tests;
