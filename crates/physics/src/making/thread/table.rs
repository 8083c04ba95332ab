//! ISO metric threads and the ports of the trade, as reference/iso_metric_threads.csv and reference/pneumatic_ports.csv hold them.
//!
//! ISO 724 (basic diameters follow from diameter and pitch), ISO 965-1 (largest minor diameter, class 6H), ISO 898-1 (stress areas), drills
//! from makers' charts. The tests compare every value with the files.

use super::{Port, Thread};

/// Threads, by rising diameter.
#[rustfmt::skip]
pub(super) const THREADS: [Thread; 36] = [
    Thread { name: "M2", coarse: true, d_mm: 2.0, pitch_mm: 0.4, tap_drill_mm: 1.6, largest_minor_mm: 1.679 },
    Thread { name: "M2x0.25", coarse: false, d_mm: 2.0, pitch_mm: 0.25, tap_drill_mm: 1.75, largest_minor_mm: 1.8 },
    Thread { name: "M2.5", coarse: true, d_mm: 2.5, pitch_mm: 0.45, tap_drill_mm: 2.05, largest_minor_mm: 2.138 },
    Thread { name: "M2.5x0.35", coarse: false, d_mm: 2.5, pitch_mm: 0.35, tap_drill_mm: 2.15, largest_minor_mm: 2.221 },
    Thread { name: "M3", coarse: true, d_mm: 3.0, pitch_mm: 0.5, tap_drill_mm: 2.5, largest_minor_mm: 2.599 },
    Thread { name: "M3x0.35", coarse: false, d_mm: 3.0, pitch_mm: 0.35, tap_drill_mm: 2.65, largest_minor_mm: 2.721 },
    Thread { name: "M4", coarse: true, d_mm: 4.0, pitch_mm: 0.7, tap_drill_mm: 3.3, largest_minor_mm: 3.422 },
    Thread { name: "M4x0.5", coarse: false, d_mm: 4.0, pitch_mm: 0.5, tap_drill_mm: 3.5, largest_minor_mm: 3.599 },
    Thread { name: "M5", coarse: true, d_mm: 5.0, pitch_mm: 0.8, tap_drill_mm: 4.2, largest_minor_mm: 4.334 },
    Thread { name: "M5x0.5", coarse: false, d_mm: 5.0, pitch_mm: 0.5, tap_drill_mm: 4.5, largest_minor_mm: 4.599 },
    Thread { name: "M6", coarse: true, d_mm: 6.0, pitch_mm: 1.0, tap_drill_mm: 5.0, largest_minor_mm: 5.153 },
    Thread { name: "M6x0.75", coarse: false, d_mm: 6.0, pitch_mm: 0.75, tap_drill_mm: 5.2, largest_minor_mm: 5.378 },
    Thread { name: "M8", coarse: true, d_mm: 8.0, pitch_mm: 1.25, tap_drill_mm: 6.8, largest_minor_mm: 6.912 },
    Thread { name: "M8x1", coarse: false, d_mm: 8.0, pitch_mm: 1.0, tap_drill_mm: 7.0, largest_minor_mm: 7.153 },
    Thread { name: "M8x0.75", coarse: false, d_mm: 8.0, pitch_mm: 0.75, tap_drill_mm: 7.2, largest_minor_mm: 7.378 },
    Thread { name: "M10", coarse: true, d_mm: 10.0, pitch_mm: 1.5, tap_drill_mm: 8.5, largest_minor_mm: 8.676 },
    Thread { name: "M10x1.25", coarse: false, d_mm: 10.0, pitch_mm: 1.25, tap_drill_mm: 8.8, largest_minor_mm: 8.912 },
    Thread { name: "M10x1", coarse: false, d_mm: 10.0, pitch_mm: 1.0, tap_drill_mm: 9.0, largest_minor_mm: 9.153 },
    Thread { name: "M12", coarse: true, d_mm: 12.0, pitch_mm: 1.75, tap_drill_mm: 10.2, largest_minor_mm: 10.441 },
    Thread { name: "M12x1.5", coarse: false, d_mm: 12.0, pitch_mm: 1.5, tap_drill_mm: 10.5, largest_minor_mm: 10.676 },
    Thread { name: "M12x1.25", coarse: false, d_mm: 12.0, pitch_mm: 1.25, tap_drill_mm: 10.8, largest_minor_mm: 10.912 },
    Thread { name: "M12x1", coarse: false, d_mm: 12.0, pitch_mm: 1.0, tap_drill_mm: 11.0, largest_minor_mm: 11.153 },
    Thread { name: "M14", coarse: true, d_mm: 14.0, pitch_mm: 2.0, tap_drill_mm: 12.0, largest_minor_mm: 12.21 },
    Thread { name: "M14x1.5", coarse: false, d_mm: 14.0, pitch_mm: 1.5, tap_drill_mm: 12.5, largest_minor_mm: 12.676 },
    Thread { name: "M16", coarse: true, d_mm: 16.0, pitch_mm: 2.0, tap_drill_mm: 14.0, largest_minor_mm: 14.21 },
    Thread { name: "M16x1.5", coarse: false, d_mm: 16.0, pitch_mm: 1.5, tap_drill_mm: 14.5, largest_minor_mm: 14.676 },
    Thread { name: "M16x1", coarse: false, d_mm: 16.0, pitch_mm: 1.0, tap_drill_mm: 15.0, largest_minor_mm: 15.153 },
    Thread { name: "M18", coarse: true, d_mm: 18.0, pitch_mm: 2.5, tap_drill_mm: 15.5, largest_minor_mm: 15.744 },
    Thread { name: "M18x1.5", coarse: false, d_mm: 18.0, pitch_mm: 1.5, tap_drill_mm: 16.5, largest_minor_mm: 16.676 },
    Thread { name: "M20", coarse: true, d_mm: 20.0, pitch_mm: 2.5, tap_drill_mm: 17.5, largest_minor_mm: 17.744 },
    Thread { name: "M20x1.5", coarse: false, d_mm: 20.0, pitch_mm: 1.5, tap_drill_mm: 18.5, largest_minor_mm: 18.676 },
    Thread { name: "M22", coarse: true, d_mm: 22.0, pitch_mm: 2.5, tap_drill_mm: 19.5, largest_minor_mm: 19.744 },
    Thread { name: "M22x1.5", coarse: false, d_mm: 22.0, pitch_mm: 1.5, tap_drill_mm: 20.5, largest_minor_mm: 20.676 },
    Thread { name: "M24", coarse: true, d_mm: 24.0, pitch_mm: 3.0, tap_drill_mm: 21.0, largest_minor_mm: 21.252 },
    Thread { name: "M24x2", coarse: false, d_mm: 24.0, pitch_mm: 2.0, tap_drill_mm: 22.0, largest_minor_mm: 22.21 },
    Thread { name: "M24x1.5", coarse: false, d_mm: 24.0, pitch_mm: 1.5, tap_drill_mm: 22.5, largest_minor_mm: 22.676 },
];

/// Ports.
#[rustfmt::skip]
pub(super) const PORTS: [Port; 3] = [
    Port { name: "M5", standard: "ISO 261", d_mm: 5.0, pitch_mm: 0.8, minor_mm: [4.134, 4.334], tap_drill_mm: 4.2, thread_depth_mm: 4.0, drilled_depth_mm: 5.5, spotface_mm: None },
    Port { name: "G1/8", standard: "ISO 228-1", d_mm: 9.728, pitch_mm: 0.907, minor_mm: [8.566, 8.848], tap_drill_mm: 8.8, thread_depth_mm: 8.0, drilled_depth_mm: 13.0, spotface_mm: Some(15.0) },
    Port { name: "G1/4", standard: "ISO 228-1", d_mm: 13.157, pitch_mm: 1.337, minor_mm: [11.445, 11.89], tap_drill_mm: 11.8, thread_depth_mm: 12.0, drilled_depth_mm: 18.5, spotface_mm: Some(19.0) },
];
