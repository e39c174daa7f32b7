//! What a lift found, as JSON for people and scripts.

use serde_json::{Value, json};

use super::Lift;
use crate::units::{Px, area_mm2};

/// Size, paper, islands and marks of a lift that has run. Seconds and memory are for the caller to add.
#[must_use]
pub fn report(lift: &Lift) -> Value {
    let sheet = lift.sheet();
    let ppi = sheet.working_ppi();
    let millimeters = |px: usize| (Px(px as f64).at(ppi).0 * 10.0).round() / 10.0;
    let mut out = json!({
        "size": { "width": sheet.width(), "height": sheet.height(), "bits": sheet.bits() },
        "ppi": sheet.ppi().map(|p| p.0),
        "ppi_assumed": sheet.ppi().is_none().then_some(ppi.0),
        "size_mm": [millimeters(sheet.width()), millimeters(sheet.height())],
        "recipe": lift.recipe().to_json(),
    });
    if let (Some(plan), Some(evidence)) = (&lift.plan, &lift.evidence) {
        out["paper"] = json!({
            "color": plan.field.color().map(|v| (v * 255.0).round() as u8),
            "unevenness_percent": rounded(plan.field.unevenness() * 100.0),
            "edge_found": !plan.edge.is_none(),
        });
        out["tooth_counts"] = json!(evidence.tooth.deviation().map(|v| rounded(v * 255.0)));
        out["blur_px"] = json!(rounded(plan.sigma));
        out["coded_in_blocks"] = json!(evidence.noise.is_some());
    }
    if let Some(covered) = &lift.covered {
        out["islands"] = islands(lift);
        let small: u64 = covered.islands.iter().filter(|i| !i.is_listed()).map(|i| u64::from(i.pixels)).sum();
        out["small_islands_mm2"] = json!(rounded(area_mm2(small, ppi) as f32));
        out["marks_removed"] = Value::Object(covered.marks.iter().map(|(k, n)| (k.name().to_owned(), json!(n))).collect());
    }
    out
}

/// The islands, biggest doubt first.
#[must_use]
pub fn islands(lift: &Lift) -> Value {
    lift.islands()
        .into_iter()
        .map(|(index, island, decision, decided)| {
            json!({
                "index": index,
                "at": island.at,
                "box": island.bounds,
                "area_mm2": rounded(island.area_mm2 as f32),
                "gap": island.bay,
                "proposed": island.proposed.name(),
                "confidence": rounded(island.confidence),
                "asked": island.asked,
                "decision": decision.name(),
                "decided": decided,
            })
        })
        .collect()
}

/// Three decimals, so that reports stay readable.
fn rounded(v: f32) -> f64 {
    (f64::from(v) * 1000.0).round() / 1000.0
}
