//! Processor time of a process, as Linux counts it.

/// Ticks of processor time a second (`USER_HZ`, proc(5)).
const TICKS: f64 = 100.0;

/// Processor time that a process has used, all threads together, in user and in system mode, s; not a number elsewhere than on Linux. `process`: its number, or
/// `self`.
pub fn processor_time(process: &str) -> f64 {
    let Ok(stat) = std::fs::read_to_string(format!("/proc/{process}/stat")) else { return f64::NAN };
    // The twelfth and thirteenth number after the name, which stands in brackets.
    let ticks = stat.rsplit(')').next().into_iter().flat_map(|rest| rest.split_whitespace().skip(11).take(2));
    ticks.filter_map(|ticks| ticks.parse::<f64>().ok()).sum::<f64>() / TICKS
}
