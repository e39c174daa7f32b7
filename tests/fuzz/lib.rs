//! What the fuzz targets share. Each of them hands bytes to a part of barewash that must neither panic, nor overflow, nor take
//! memory for sizes that a file merely states.

use barewash::decode::{self, Format};
use barewash::error::Result;
use barewash::image::{Samples, Sheet};
use barewash::matte::island::Decision;
use barewash::pipeline::Recipe;
use barewash::pipeline::recipe::{Decided, Islands, Stroke};
use barewash::units::Ppi;
use libfuzzer_sys::arbitrary::Unstructured;

/// Reads bytes of this format: a sheet comes of them that holds what it says, or a sentence.
pub fn read(bytes: &[u8], format: Format) {
    if Format::of(bytes) != Some(format) {
        return;
    }
    let read: Result<_> = decode::read(bytes);
    match read {
        Ok(scan) => {
            assert_eq!(scan.format, format);
            let held = match scan.sheet.samples() {
                Samples::Eight(v) => v.len(),
                Samples::Sixteen(v) => v.len(),
            };
            assert_eq!(held, 3 * scan.sheet.width() * scan.sheet.height());
        }
        Err(why) => assert!(!why.message().is_empty()),
    }
}

/// A small scan, as a file: pale paper with a dark square.
#[must_use]
pub fn scan() -> Vec<u8> {
    let pixel = |i: u32| if (3..8).contains(&(i % 12)) && (2..7).contains(&(i / 12)) { [40, 90, 150] } else { [240, 236, 225] };
    let samples: Vec<u8> = (0..120).flat_map(pixel).collect();
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, 12, 10);
    encoder.set_color(png::ColorType::Rgb);
    let mut writer = encoder.write_header().expect("a sound head");
    writer.write_image_data(&samples).expect("sound samples");
    drop(writer);
    out
}

/// The fuzzer's bytes, as numbers; zeros when they are spent.
pub struct Choices<'a>(Unstructured<'a>);

impl<'a> Choices<'a> {
    /// Choices from these bytes.
    #[must_use]
    pub fn new(bytes: &'a [u8]) -> Self {
        Self(Unstructured::new(bytes))
    }

    /// A number of 0 to 255.
    pub fn byte(&mut self) -> u8 {
        self.0.arbitrary().unwrap_or_default()
    }

    /// A number of 0 to 65535.
    pub fn word(&mut self) -> u16 {
        self.0.arbitrary().unwrap_or_default()
    }

    fn percent(&mut self) -> f64 {
        f64::from(self.word() % 10_001) / 100.0
    }

    fn decision(&mut self) -> Decision {
        if self.byte() & 1 == 0 { Decision::Keep } else { Decision::Clear }
    }
}

/// A recipe with values anywhere in their ranges; some of its places lie off the sheet.
pub fn any_recipe(choices: &mut Choices<'_>) -> Recipe {
    let mut recipe = Recipe::default();
    for _ in 0..choices.byte() % 8 {
        match choices.byte() % 13 {
            0 => recipe.tolerance = choices.percent(),
            1 => recipe.soft = choices.percent(),
            2 => recipe.rim = choices.percent(),
            3 => recipe.body = choices.percent(),
            4 => recipe.islands = [Islands::Propose, Islands::Keep, Islands::Clear][usize::from(choices.byte() % 3)],
            5 => {
                let at = [0; 2].map(|_| u32::from(choices.byte() % 50));
                recipe.decided.push(Decided { at, decision: choices.decision() });
            }
            6 => recipe.tidy.specks_mm = choices.percent() / 10.0,
            7 => recipe.tidy.hairs = choices.decision(),
            8 => recipe.tidy.pencil = choices.decision(),
            9 => recipe.tidy.stains = choices.decision(),
            10 => recipe.tidy.sheet_edge = choices.decision(),
            11 => recipe.paper = Some([0; 3].map(|_| choices.byte())),
            _ => {
                let path =
                    (0..choices.byte() % 4).map(|_| [0; 2].map(|_| (f64::from(choices.word()) - 32768.0) / 500.0)).collect();
                let radius = 0.5 + f64::from(choices.word()) / 32.8;
                recipe.strokes.push(Stroke { decision: choices.decision(), radius, path });
            }
        }
    }
    recipe
}

/// A sheet of up to 40 x 40 pixels: one color, and what the bytes take off it.
pub fn any_sheet(choices: &mut Choices<'_>) -> Sheet {
    let [width, height] = [0; 2].map(|_| 1 + usize::from(choices.byte() % 40));
    let deep = choices.byte() & 1 == 1;
    // 10 to 20000, or not known.
    let ppi = Some(choices.word()).filter(|v| *v > 0).map(|v| Ppi(10.0 + f64::from(v) * 19_990.0 / 65_535.0));
    let paper = [0; 3].map(|_| 255 - choices.byte());
    let count = width * height * 3;
    let samples = if deep {
        let sample = |i: usize| (u16::from(paper[i % 3]) * 257).wrapping_sub(choices.word());
        Samples::Sixteen((0..count).map(sample).collect())
    } else {
        let sample = |i: usize| paper[i % 3].wrapping_sub(choices.byte());
        Samples::Eight((0..count).map(sample).collect())
    };
    Sheet::new(width, height, samples, ppi)
}
