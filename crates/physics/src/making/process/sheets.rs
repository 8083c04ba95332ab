//! The sheets themselves, part by part.

use super::{Machine, Operation, size_in_words};
use crate::making::parts::{Part, PartKind};

const CHIPS: &str = "Eye protection. No gloves at a turning spindle. Chips are taken away with a hook, never by hand.";
const CLAMPS: &str = "Check that the vice or clamps hold before the spindle starts; keep hands away from the cutter until it stands.";
const COMPRESSED: &str = "Blow nothing clean by compressed air: chips fly, and they lodge in the ports.";
const LAPPING: &str = "Lapping compound in the air film is abrasion: wash it out of every hole until a white cloth stays white.";

/// An operation with its features; number, criticality and measuring are filled in by the caller.
fn op(machine: Machine, does: impl Into<String>, features: &[&'static str], caution: Option<&'static str>) -> Operation {
    Operation { number: 0, machine, does: does.into(), features: features.to_vec(), critical: None, measure: None, caution }
}

fn of_size(part: &Part, feature: &str, name: &str) -> String {
    part.feature(feature).and_then(|f| f.dimension(name)).map(size_in_words).unwrap_or_default()
}

fn sawn(part: &Part) -> Operation {
    let stock = part.stock.as_ref().map(|s| s.says.clone()).unwrap_or_default();
    op(Machine::Saw, format!("Cut {} pieces of {stock} from {}.", part.quantity, part.material), &[], None)
}

pub(super) fn of(part: &Part) -> Vec<Operation> {
    match part.kind {
        PartKind::Plate => plate(part),
        PartKind::Pillar => pillar(part),
        PartKind::Collar => collar(part),
        PartKind::Saddle => saddle(part),
        PartKind::Guide => guide(part),
        PartKind::EndStop => end_stop(part),
        PartKind::Arbor => arbor(part),
        PartKind::Foot => foot(part),
        PartKind::Jet => jet(part),
        PartKind::Bought(_) => Vec::new(),
    }
}

fn plate(p: &Part) -> Vec<Operation> {
    let size = ["length", "width", "thickness"].map(|n| of_size(p, "body", n)).join(" × ");
    vec![
        sawn(p),
        op(
            Machine::Mill,
            format!(
                "Mill all round to {size}, 0.3 mm left on the upper face. Let it lie a day: skin that was cut off lets the plate move."
            ),
            &["body"],
            Some(CLAMPS),
        ),
        op(
            Machine::Drill,
            "Zero on the datum corner, spot all places in the order of the hole table, then drill: one tool through all its holes before the next. Every place is approached from the left, so that play does not show. Do not unclamp between.",
            &["pillar_screws"],
            Some(CHIPS),
        ),
        op(
            Machine::Drill,
            "In the same clamping drill and tap the feet's threads, the tap started in the spindle so that it stands square.",
            &["feet"],
            None,
        ),
        op(Machine::Drill, "Turn the plate over; cut the screws' seats with a piloted cutter.", &[], Some(CLAMPS)),
        op(
            Machine::Grinder,
            "Grind or scrape the upper face last, free of clamping strain: three supports below, hardly clamped.",
            &["top"],
            Some("A magnetic chuck holds iron only where it lies on it: block the plate on all sides."),
        ),
        op(Machine::Bench, "Break the edges, wash, oil.", &[], Some(COMPRESSED)),
    ]
}

fn pillar(p: &Part) -> Vec<Operation> {
    vec![
        sawn(p),
        op(
            Machine::Mill,
            format!(
                "Square both pieces to {} × {} and {} high, the foot face last; both in one setting for height, so that they are alike.",
                of_size(p, "body", "width"),
                of_size(p, "body", "depth"),
                of_size(p, "body", "height")
            ),
            &["body", "foot"],
            Some(CLAMPS),
        ),
        op(
            Machine::Lathe,
            format!(
                "Four-jaw chuck, the square centred within 0.05 mm, foot face against a true stop. Bore {} and {} deep with a flat floor; last cuts of 0.1 mm with a sharp tool, no reaming; then the 15° lead-in in the same clamping.",
                of_size(p, "bore", "diameter"),
                of_size(p, "bore", "depth")
            ),
            &["bore", "lead_in"],
            Some("A square piece in a chuck catches sleeves: guard on, speed low enough for its corners. No gloves."),
        ),
        op(
            Machine::Drill,
            "Upper face: drill and tap the four holes for the collar, from the datum corner.",
            &["collar_screws"],
            Some(CHIPS),
        ),
        op(
            Machine::Drill,
            "Turn over: drill and tap the four holes in the foot face. Their depth leaves the bore's floor alone; set the stop.",
            &["foot_screws"],
            None,
        ),
        op(Machine::Drill, "Face away from the wheel: drill and tap for the end stop.", &["stop_screws"], None),
        op(
            Machine::Drill,
            "Left face: spotface, drill through into the bore, tap in the same clamping so that thread and face are square: a parallel thread seals on its face.",
            &["port"],
            Some("Feed by hand as the drill breaks through into the bore: it grabs."),
        ),
        op(
            Machine::Bench,
            "Round the port's edge in the bore with a scraper and fine cloth; wash until no chip is left in any hole.",
            &[],
            Some(COMPRESSED),
        ),
    ]
}

fn collar(p: &Part) -> Vec<Operation> {
    vec![
        sawn(p),
        op(Machine::Mill, format!("Square to {} × {}.", of_size(p, "body", "width"), of_size(p, "body", "depth")), &[], Some(CLAMPS)),
        op(
            Machine::Lathe,
            format!(
                "Four-jaw chuck. In one clamping turn the spigot {} and its seat, and bore {} through: what is cut in one clamping runs true. Fit the bore to the saddle's neck as it was made.",
                of_size(p, "spigot", "diameter"),
                of_size(p, "bore", "diameter")
            ),
            &["spigot", "seat", "bore"],
            Some("A square piece in a chuck catches sleeves: guard on, speed low enough for its corners. No gloves."),
        ),
        op(
            Machine::Lathe,
            format!("Turn over on soft jaws bored to the spigot; face to {} above the seat.", of_size(p, "body", "thickness")),
            &["body"],
            None,
        ),
        op(
            Machine::Drill,
            "Drill and seat the four screw holes, drill and tap the two for the guide bar, from the datum corner in one clamping.",
            &["collar_screws", "guide_screws"],
            Some(CHIPS),
        ),
        op(
            Machine::Drill,
            "Drill and tap for the set screw from the right face, then turn a quarter and do the one from the back.",
            &["set_screw_side", "set_screw_back"],
            Some("Feed by hand as the drill breaks through into the bore: it grabs."),
        ),
        op(Machine::Bench, "Take every burr out of the bore; the neck must slide through by its own weight, oiled.", &[], None),
    ]
}

fn saddle(p: &Part) -> Vec<Operation> {
    let mut all = vec![
        sawn(p),
        op(
            Machine::Lathe,
            format!(
                "In one clamping turn the piston {} and the neck {}, leave the upper end 3 mm long; drill {} up to its depth.",
                of_size(p, "piston", "diameter"),
                of_size(p, "neck", "diameter"),
                of_size(p, "gallery", "diameter")
            ),
            &["piston", "neck", "gallery"],
            Some(CHIPS),
        ),
        op(
            Machine::Lathe,
            format!(
                "Cut the O-ring's groove to {} at its bottom, {} wide, corners round, sides smooth; break its edges by no more than 0.1.",
                of_size(p, "groove", "diameter"),
                of_size(p, "groove", "width")
            ),
            &["groove"],
            None,
        ),
        op(
            Machine::Mill,
            format!("Hold by the neck in a V-block; mill both flats in one setting to {}.", of_size(p, "flats", "across")),
            &["flats"],
            Some(CLAMPS),
        ),
        op(
            Machine::Mill,
            format!(
                "Clamp both saddles in line on one fixture, flats together. Bore the whole round 0.02 mm under size through both at once, before the upper ends are cut down: so the axes are one line. Size at the end {}.",
                of_size(p, "bore", "diameter")
            ),
            &[],
            Some(CLAMPS),
        ),
        op(
            Machine::Drill,
            format!(
                "From the bore drill the port {} in the middle of its length and straight down, into the air hole; small drill, fast, peck.",
                of_size(p, "port", "diameter")
            ),
            &["port"],
            Some("A broken small drill flies: eye protection."),
        ),
    ];
    if p.feature("pocket").is_some() {
        all.push(op(
            Machine::Drill,
            format!(
                "With a flat cutter sink the pocket {}, {} deep below the bore.",
                of_size(p, "pocket", "diameter"),
                of_size(p, "pocket", "depth")
            ),
            &["pocket"],
            None,
        ));
    }
    all.push(op(Machine::Mill, format!("Mill the upper end to {}.", of_size(p, "top", "height")), &["top"], Some(CLAMPS)));
    all.push(op(
        Machine::Bench,
        format!("Lap the bore to {}: the finished arbor as measured and its clearance, with a lap of the arbor's length through both saddles. Stop and measure often; wash before each measuring.", of_size(p, "bore", "diameter")),
        &["bore"],
        Some(LAPPING),
    ));
    all.push(op(
        Machine::Bench,
        "Take burrs off port, flats and edges; wash all holes; mark the end that is the operator's and the number of the collar.",
        &[],
        Some(COMPRESSED),
    ));
    all
}

fn guide(p: &Part) -> Vec<Operation> {
    vec![
        sawn(p),
        op(
            Machine::Mill,
            format!("Mill to {} × {} × {}.", of_size(p, "body", "length"), of_size(p, "body", "width"), of_size(p, "body", "height")),
            &["body"],
            Some(CLAMPS),
        ),
        op(Machine::Drill, "Drill both holes from the datum corner.", &["screws"], Some(CHIPS)),
        op(Machine::Bench, "Rub the face that meets the saddle on fine cloth on the surface plate.", &["face"], None),
    ]
}

fn end_stop(p: &Part) -> Vec<Operation> {
    vec![
        sawn(p),
        op(
            Machine::Mill,
            format!(
                "Mill to {} × {} × {}; cut the arm free of the foot where the drawing has a step.",
                of_size(p, "body", "width"),
                of_size(p, "body", "thickness"),
                of_size(p, "body", "height")
            ),
            &["body", "seat"],
            Some(CLAMPS),
        ),
        op(
            Machine::Drill,
            "Drill the two screw holes, then drill and tap for the stop screw, all from the datum corner in one clamping.",
            &["screws", "stop_screw"],
            Some(CHIPS),
        ),
        op(Machine::Bench, "Break the edges; try the stop screw: it must turn stiffly enough to stay.", &[], None),
    ]
}

fn arbor(p: &Part) -> Vec<Operation> {
    vec![
        sawn(p),
        op(
            Machine::Lathe,
            format!("Face to {}, centre both ends, turn 0.3 mm over size between centres, chamfer.", of_size(p, "body", "length")),
            &["body", "chamfers"],
            Some(CHIPS),
        ),
        op(
            Machine::Furnace,
            "Harden and temper to the hardness of the drawing; straighten hot if it bends.",
            &[],
            Some("Hot metal and quench oil burn: face shield, lid at hand, no water near the oil."),
        ),
        op(Machine::Bench, "Lap both centres: they carry the roundness of all that follows.", &["centres"], None),
        op(
            Machine::Grinder,
            format!(
                "Grind between dead centres to {}, the last passes without feed until it sparks no more. Dead centres, not centreless: three lobes measure alike in a micrometer and still are not round.",
                of_size(p, "shaft", "diameter")
            ),
            &["shaft"],
            Some("Ring-test the wheel, guard on, never above its marked speed; stand aside at run-up."),
        ),
        op(Machine::Bench, "Demagnetise, wash, oil; write the diameter as measured on the sheet: the saddles are lapped to it.", &[], None),
    ]
}

fn foot(p: &Part) -> Vec<Operation> {
    vec![
        sawn(p),
        op(
            Machine::Lathe,
            format!("Turn the shank {} and the ball tip with a form tool or by copying.", of_size(p, "shank", "diameter")),
            &["shank", "tip"],
            Some(CHIPS),
        ),
        op(
            Machine::Lathe,
            format!(
                "Turn round: face to {}, turn for the thread up to the hexagon, chamfer, cut the thread and try it in the plate.",
                of_size(p, "body", "length")
            ),
            &["body", "hexagon", "thread", "chamfer"],
            Some(CHIPS),
        ),
        op(Machine::Furnace, "Harden the tip only, polish it bright.", &[], Some("Hot metal burns; quench with tongs.")),
    ]
}

fn jet(p: &Part) -> Vec<Operation> {
    vec![
        sawn(p),
        op(
            Machine::Lathe,
            format!("Turn to {}, part off at {}; make four, to choose from.", of_size(p, "body", "diameter"), of_size(p, "body", "length")),
            &["body"],
            Some(CHIPS),
        ),
        op(
            Machine::Drill,
            format!(
                "Drill {} under a loupe, fast and with light feed; or fit a bought nozzle of that size.",
                of_size(p, "bore", "diameter")
            ),
            &["bore"],
            Some("A broken small drill flies: eye protection."),
        ),
        op(Machine::Bench, "Clear the bore with a wire, wash, compare the flow at one pressure; pair the two that are nearest.", &[], None),
    ]
}
