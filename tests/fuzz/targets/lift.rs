//! Any small picture is lifted with any recipe: the same each time, whole or in bands, and on its own paper the scan again.
#![no_main]

use std::rc::Rc;

use barewash::foreground::RowSource;
use barewash::pipeline::{Lift, Recipe};
use barewash_fuzz::{Choices, any_recipe, any_sheet};

/// Rows of the art from `top` on, in a band of this height that knows nothing of the others.
fn band(lift: &Lift, top: usize, height: usize) -> Vec<u8> {
    let (sheet, field) = (lift.sheet(), lift.field().expect("a paper"));
    let mut source = RowSource::new(sheet, field);
    let mut out = vec![0; 4 * sheet.width() * height];
    for (y, row) in out.chunks_exact_mut(4 * sheet.width()).enumerate() {
        lift.row8(&mut source, top + y, 0, row);
    }
    out
}

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let mut choices = Choices::new(bytes);
    let recipe: Recipe = any_recipe(&mut choices);
    let sheet = Rc::new(any_sheet(&mut choices));
    let lifted = || {
        let mut lift = Lift::new(Rc::clone(&sheet));
        lift.set_recipe(recipe.clone());
        lift.finish().expect("memory");
        lift
    };
    let lift = lifted();
    let (width, height) = (sheet.width(), sheet.height());
    let whole = band(&lift, 0, height);
    let again = lifted();
    for tall in [1, 7] {
        for top in (0..height).step_by(tall) {
            let part = band(&again, top, tall.min(height - top));
            assert!(part == whole[4 * width * top..][..part.len()], "bands of {tall} rows differ from the whole at {top}");
        }
    }
    let field = lift.field().expect("a paper");
    for (i, art) in whole.chunks_exact(4).enumerate().filter(|(_, art)| art[3] > 0) {
        let (x, y) = (i % width, i / width);
        let (scan, paper) = (sheet.pixel(x, y), field.pixel(x, y));
        let alpha = f32::from(art[3]) / 255.0;
        for c in 0..3 {
            let laid = alpha * f32::from(art[c]) + (1.0 - alpha) * paper[c] * 255.0;
            assert!((laid - scan[c] * 255.0).abs() < 1.01, "{x}, {y}: {laid} on its own paper, {} in the scan", scan[c] * 255.0);
        }
    }
});
