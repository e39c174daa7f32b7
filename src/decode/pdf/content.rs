//! What is drawn on a page: ISO 32000-1, 8 and 9. Only pictures count; what a picture hides does not.

use hayro_syntax::content::UntypedIter;
use hayro_syntax::object::{Array, Dict, Name, Object, Stream};
use hayro_syntax::page::{Page, Resources};

use super::filters::Packed;
use super::{broken, screen, unsupported};
use crate::decode::limits;
use crate::error::Result;

/// From a picture's own unit square to the page: x' = a x + c y + e, y' = b x + d y + f.
pub(super) type Matrix = [f64; 6];

/// Pictures within pictures, at most.
const MOST_DEEP: usize = 6;
/// Pictures and groups that are drawn on a page, at most; a page in strips has some hundreds.
const MOST_DRAWN: usize = 10_000;
/// States that are put aside, at most: Annex C has 28.
const MOST_STATES: usize = 256;
/// A picture hides what it covers up to this many units from the edge of the page.
const EDGE: f64 = 2.0;

/// What may still be unpacked of the pages' drawing, in bytes.
pub(super) struct Budget(u64);

impl Default for Budget {
    fn default() -> Self {
        Self(limits::MAX_TABLES)
    }
}

/// A picture on a page.
pub(super) struct Drawn<'a> {
    pub(super) stream: Stream<'a>,
    pub(super) matrix: Matrix,
    /// The colors that stand for those of a device.
    pub(super) color_spaces: Dict<'a>,
    /// Whether what has no color of its own is drawn in black.
    pub(super) black: bool,
}

/// The pictures of a page that can be seen, in the order of drawing: at least one, and nothing else beside them.
///
/// # Errors
/// Where there is none, or something else as well.
pub(super) fn walk<'a>(page: &'a Page<'a>, budget: &mut Budget) -> Result<Vec<Drawn<'a>>> {
    let mut walk = Walk { page, budget, drawn: Vec::new(), besides: false, count: 0 };
    let content = walk.content(page)?;
    walk.run(&content, page.resources(), State::default(), 0)?;
    match (walk.drawn.is_empty(), walk.besides) {
        (false, false) => Ok(walk.drawn),
        (false, true) => {
            Err(unsupported("has words or drawing besides its picture, which only a program that shows PDFs can put together"))
        }
        (true, true) => Err(unsupported("holds words or drawing here, and no picture")),
        (true, false) => Err(unsupported("holds no picture here: the page is empty")),
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Fill {
    Black,
    White,
    Other,
}

#[derive(Clone, Copy)]
struct State {
    matrix: Matrix,
    fill: Fill,
    /// Whether words are there to be searched only: table 106, modes 3 and 7.
    unseen_words: bool,
}

impl Default for State {
    fn default() -> Self {
        Self { matrix: [1.0, 0.0, 0.0, 1.0, 0.0, 0.0], fill: Fill::Black, unseen_words: false }
    }
}

struct Walk<'a, 'b> {
    page: &'a Page<'a>,
    budget: &'b mut Budget,
    drawn: Vec<Drawn<'a>>,
    /// Whether anything else can be seen.
    besides: bool,
    count: usize,
}

impl<'a> Walk<'a, '_> {
    /// The page's drawing, its parts with space between.
    fn content(&mut self, page: &Page<'a>) -> Result<Vec<u8>> {
        let parts = match page.raw().get::<Object<'a>>("Contents") {
            Some(Object::Stream(one)) => vec![one],
            Some(Object::Array(several)) => {
                let several: Array<'a> = several;
                several.iter::<Object<'a>>().take(MOST_DRAWN).filter_map(Object::into_stream).collect()
            }
            _ => Vec::new(),
        };
        let mut all = Vec::new();
        for part in parts {
            all.extend(self.unpacked(&part)?);
            all.push(b' ');
        }
        Ok(all)
    }

    fn unpacked(&mut self, stream: &Stream<'a>) -> Result<Vec<u8>> {
        let bytes = Packed::of(stream)?.whole(self.budget.0)?.into_owned();
        self.budget.0 = self.budget.0.checked_sub(bytes.len() as u64).ok_or_else(screen::too_large)?;
        Ok(bytes)
    }

    fn run(&mut self, content: &[u8], resources: &Resources<'a>, mut state: State, depth: usize) -> Result<()> {
        let (mut aside, mut too_many) = (Vec::new(), 0_usize);
        let mut instructions = UntypedIter::new(content);
        while let Some(instruction) = instructions.next() {
            let operands: Vec<&Object<'_>> = instruction.operands().collect();
            let numbers: Vec<f64> = operands.iter().filter_map(|one| number(one)).collect();
            match instruction.operator.as_ref() {
                b"q" if aside.len() < MOST_STATES => aside.push(state),
                b"q" => too_many += 1,
                b"Q" if too_many > 0 => too_many -= 1,
                b"Q" => state = aside.pop().unwrap_or(state),
                b"cm" => {
                    if let Ok(inner) = numbers.try_into() {
                        state.matrix = product(inner, state.matrix);
                    }
                }
                b"Tr" => state.unseen_words = matches!(numbers.first(), Some(&mode) if mode == 3.0 || mode == 7.0),
                b"g" | b"rg" | b"k" | b"sc" | b"scn" => state.fill = filled(instruction.operator.as_ref(), &numbers),
                b"cs" => state.fill = Fill::Other,
                b"f" | b"F" | b"f*" => self.besides |= state.fill != Fill::White,
                b"S" | b"s" | b"B" | b"B*" | b"b" | b"b*" | b"sh" => self.besides = true,
                b"Tj" | b"TJ" | b"'" | b"\"" => self.besides |= !state.unseen_words,
                b"BI" => return Err(unsupported("keeps its picture among the words of the page, in a way that is not read")),
                b"Do" => {
                    if let Some(Object::Name(name)) = operands.first() {
                        self.draw(name, resources, state, depth)?;
                    }
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn draw(&mut self, name: &Name<'_>, resources: &Resources<'a>, state: State, depth: usize) -> Result<()> {
        let Some(stream) = resources.x_objects.get::<Stream<'a>>(name.as_ref()) else { return Ok(()) };
        self.count += 1;
        if self.count > MOST_DRAWN || depth > MOST_DEEP {
            return Err(broken("more pictures within pictures than a page can have"));
        }
        let dict = stream.dict();
        match dict.get::<Name<'_>>("Subtype").as_deref() {
            Some(b"Image") => {
                let opaque =
                    !["SMask", "Mask"].iter().any(|key| dict.contains_key(key)) && dict.get::<bool>("ImageMask") != Some(true);
                if opaque && self.covers_the_page(state.matrix) {
                    self.drawn.clear();
                    self.besides = false;
                }
                let (matrix, black) = (state.matrix, state.fill == Fill::Black);
                self.drawn.push(Drawn { stream, matrix, color_spaces: resources.color_spaces.clone(), black });
            }
            Some(b"Form") => {
                let own =
                    dict.get::<Array<'_>>("Matrix").map(|array| array.iter::<f32>().take(6).map(f64::from).collect::<Vec<_>>());
                let own = own.and_then(|own| own.try_into().ok()).unwrap_or(State::default().matrix);
                let inner = dict.get::<Dict<'a>>("Resources").map_or_else(|| resources.clone(), Resources::new);
                let content = self.unpacked(&stream)?;
                self.run(&content, &inner, State { matrix: product(own, state.matrix), ..state }, depth + 1)?;
            }
            _ => {}
        }
        Ok(())
    }

    /// Whether a picture hides all that was drawn before.
    fn covers_the_page(&self, [a, b, c, d, e, f]: Matrix) -> bool {
        let straight = (b == 0.0 && c == 0.0) || (a == 0.0 && d == 0.0);
        let (left, right) = (e + a.min(0.0) + c.min(0.0), e + a.max(0.0) + c.max(0.0));
        let (low, high) = (f + b.min(0.0) + d.min(0.0), f + b.max(0.0) + d.max(0.0));
        let page = self.page.intersected_crop_box();
        straight && left <= page.x0 + EDGE && low <= page.y0 + EDGE && right >= page.x1 - EDGE && high >= page.y1 - EDGE
    }
}

fn number(object: &Object<'_>) -> Option<f64> {
    if let Object::Number(number) = object { Some(number.as_f64()) } else { None }
}

/// What an operator of 8.6.8 makes the color.
fn filled(operator: &[u8], numbers: &[f64]) -> Fill {
    let (black, white): (&[f64], &[f64]) = match operator {
        b"g" => (&[0.0], &[1.0]),
        b"rg" => (&[0.0; 3], &[1.0; 3]),
        b"k" => (&[0.0, 0.0, 0.0, 1.0], &[0.0; 4]),
        _ => return Fill::Other,
    };
    match numbers {
        _ if numbers == black => Fill::Black,
        _ if numbers == white => Fill::White,
        _ => Fill::Other,
    }
}

/// First `inner`, then `outer`: 8.3.4.
fn product(inner: Matrix, outer: Matrix) -> Matrix {
    let [a, b, c, d, e, f] = outer;
    let place = |x: f64, y: f64| [a * x + c * y, b * x + d * y];
    let ([a1, b1], [c1, d1], [e1, f1]) = (place(inner[0], inner[1]), place(inner[2], inner[3]), place(inner[4], inner[5]));
    [a1, b1, c1, d1, e1 + e, f1 + f]
}
