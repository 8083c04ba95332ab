//! Radial O-ring housings, as reference/oring_glands.csv holds them: published groove tables, section tolerance of ISO 3601-1 class B.
//!
//! The tests compare every value with the file.

use super::Housing;

/// Housings, by rising section.
#[rustfmt::skip]
pub(super) const HOUSINGS: [Housing; 10] = [
    Housing {
        section_mm: 1.0, section_tolerance_mm: 0.08,
        still_depth_mm: 0.7, still_width_mm: 1.4, reciprocating_depth_mm: None,
        air_depth_mm: 0.95, air_width_mm: 1.3, air_row_mm: 1.0,
        still_lead_in_mm: Some(1.2), air_lead_in_mm: 1.0, lead_in_at_15_deg_mm: None, corner_radius_mm: 0.2,
    },
    Housing {
        section_mm: 1.5, section_tolerance_mm: 0.08,
        still_depth_mm: 1.1, still_width_mm: 2.0, reciprocating_depth_mm: Some(1.25),
        air_depth_mm: 1.35, air_width_mm: 1.9, air_row_mm: 1.5,
        still_lead_in_mm: Some(1.5), air_lead_in_mm: 1.0, lead_in_at_15_deg_mm: None, corner_radius_mm: 0.3,
    },
    Housing {
        section_mm: 1.8, section_tolerance_mm: 0.08,
        still_depth_mm: 1.3, still_width_mm: 2.4, reciprocating_depth_mm: Some(1.45),
        air_depth_mm: 1.55, air_width_mm: 2.3, air_row_mm: 1.78,
        still_lead_in_mm: Some(1.5), air_lead_in_mm: 1.1, lead_in_at_15_deg_mm: Some(2.1), corner_radius_mm: 0.3,
    },
    Housing {
        section_mm: 2.0, section_tolerance_mm: 0.08,
        still_depth_mm: 1.5, still_width_mm: 2.7, reciprocating_depth_mm: Some(1.65),
        air_depth_mm: 1.8, air_width_mm: 2.4, air_row_mm: 2.0,
        still_lead_in_mm: Some(2.0), air_lead_in_mm: 1.2, lead_in_at_15_deg_mm: None, corner_radius_mm: 0.3,
    },
    Housing {
        section_mm: 2.5, section_tolerance_mm: 0.09,
        still_depth_mm: 1.9, still_width_mm: 3.3, reciprocating_depth_mm: Some(2.15),
        air_depth_mm: 2.25, air_width_mm: 3.0, air_row_mm: 2.5,
        still_lead_in_mm: Some(2.0), air_lead_in_mm: 1.4, lead_in_at_15_deg_mm: None, corner_radius_mm: 0.3,
    },
    Housing {
        section_mm: 2.65, section_tolerance_mm: 0.09,
        still_depth_mm: 2.0, still_width_mm: 3.6, reciprocating_depth_mm: Some(2.25),
        air_depth_mm: 2.35, air_width_mm: 3.1, air_row_mm: 2.62,
        still_lead_in_mm: Some(2.5), air_lead_in_mm: 1.5, lead_in_at_15_deg_mm: Some(3.1), corner_radius_mm: 0.3,
    },
    Housing {
        section_mm: 3.0, section_tolerance_mm: 0.09,
        still_depth_mm: 2.3, still_width_mm: 4.0, reciprocating_depth_mm: Some(2.6),
        air_depth_mm: 2.75, air_width_mm: 3.6, air_row_mm: 3.0,
        still_lead_in_mm: Some(2.5), air_lead_in_mm: 1.6, lead_in_at_15_deg_mm: None, corner_radius_mm: 0.6,
    },
    Housing {
        section_mm: 3.55, section_tolerance_mm: 0.1,
        still_depth_mm: 2.7, still_width_mm: 4.8, reciprocating_depth_mm: Some(3.1),
        air_depth_mm: 3.25, air_width_mm: 4.2, air_row_mm: 3.53,
        still_lead_in_mm: Some(2.5), air_lead_in_mm: 1.8, lead_in_at_15_deg_mm: Some(4.0), corner_radius_mm: 0.6,
    },
    Housing {
        section_mm: 5.3, section_tolerance_mm: 0.13,
        still_depth_mm: 4.3, still_width_mm: 7.1, reciprocating_depth_mm: Some(4.7),
        air_depth_mm: 4.95, air_width_mm: 6.4, air_row_mm: 5.33,
        still_lead_in_mm: Some(3.0), air_lead_in_mm: 2.7, lead_in_at_15_deg_mm: Some(6.0), corner_radius_mm: 0.6,
    },
    Housing {
        section_mm: 7.0, section_tolerance_mm: 0.15,
        still_depth_mm: 5.8, still_width_mm: 9.5, reciprocating_depth_mm: Some(6.1),
        air_depth_mm: 6.6, air_width_mm: 8.4, air_row_mm: 7.0,
        still_lead_in_mm: None, air_lead_in_mm: 3.6, lead_in_at_15_deg_mm: Some(7.2), corner_radius_mm: 1.0,
    },
];
