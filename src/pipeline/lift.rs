//! One lift: a sheet, a recipe, and the work between them, done in short pieces.
//!
//! What a changed recipe leaves valid is kept: body, softness and rim need nothing anew, a decision about an island only
//! the matte, tolerance the cover, the paper's color everything.

use std::collections::BTreeMap;
use std::rc::Rc;

use super::recipe::{Islands, Recipe};
use crate::error::Result;
use crate::filter::Regions;
use crate::foreground::{Dials, RowSource, Unmixer};
use crate::image::{Art, Pixels, Plane, Sheet};
use crate::matte::bay;
use crate::matte::contour::{self, Tracing};
use crate::matte::cover::{self, Cover, Thresholds, Trim};
use crate::matte::dry::DryBrush;
use crate::matte::edge::Edging;
use crate::matte::evidence::{Evidence, Gathering};
use crate::matte::fade::Fade;
use crate::matte::hue::AlongHue;
use crate::matte::island::{self, Decision, Island, Shape};
use crate::matte::sliver::{self, Small};
use crate::matte::strokes;
use crate::paper::{Overview, PaperField, SheetEdge, blur};
use crate::repair::parts::{self, Part};
use crate::repair::piece::{Pieces, Pointed};
use crate::repair::scrap::{Scrap, Scraps};
use crate::repair::{self, Stains, marks};
use crate::units::{Mm, Ppi};

/// What is being worked on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// The paper's color and light.
    Paper,
    /// What is painted.
    Cover,
    /// What is a mark.
    Tidy,
    /// The soft edges.
    Edges,
    /// Nothing: the art is there.
    Art,
}

impl Stage {
    /// The word used in reports and on the page.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Paper => "paper",
            Self::Cover => "cover",
            Self::Tidy => "tidy",
            Self::Edges => "edges",
            Self::Art => "art",
        }
    }
}

/// The paper, and what else is known of a sheet before a pixel is judged.
#[derive(Debug)]
pub(super) struct Plan {
    pub(super) field: PaperField,
    pub(super) edge: SheetEdge,
    pub(super) sigma: f32,
}

/// The cover, and what was found in it.
#[derive(Debug)]
pub(super) struct Covered {
    cover: Cover,
    free: Regions,
    /// Free regions that are cleared whatever is decided.
    open: Vec<bool>,
    /// Free regions that a stroke clears.
    by_hand: Vec<bool>,
    pub(super) islands: Vec<Island>,
    /// Free regions that follow what lies around them.
    small: Vec<Small>,
    /// What lies apart from the painting, and what is pale and hangs on paint, art and not.
    parts: Pieces<{ parts::COUNT }>,
    scraps: Scraps,
    /// What the painter decided at pixels of no island.
    of_pieces: Vec<([usize; 2], Decision)>,
    /// What the cover held where the painter turned pieces over.
    turned: Vec<(usize, usize, u8)>,
    pub(super) decisions: Vec<(Decision, bool)>,
    pub(super) marks: Vec<(marks::Kind, usize)>,
    /// Where washes run out, if any does.
    fade: Option<Fade>,
    /// Where there is dry brush, if any.
    dry: Option<DryBrush>,
}

impl Covered {
    /// The island that each free region is, or `usize::MAX`.
    fn numbers(&self) -> Vec<usize> {
        let mut number = vec![usize::MAX; self.free.count()];
        for (i, island) in self.islands.iter().enumerate() {
            number[island.region] = i;
        }
        number
    }

    /// Turns over the pieces that the painter spoke of, and those that follow.
    fn turn(&mut self, evidence: &Evidence, ppi: Ppi) {
        let Self { cover, parts, scraps, of_pieces, turned, .. } = self;
        let mut turn = |cover: &mut Cover, (x, y): (usize, usize), clear: bool| {
            turned.push((x, y, cover.cover.at(x, y)));
            if clear { cover.clear(x, y) } else { cover.paint(x, y) }
        };
        if let Some(cleared) = parts.settle(of_pieces, ppi) {
            for clear in [false, true] {
                parts.pixels(&parts.turned(&cleared, clear), |x, y| turn(cover, (x, y), clear));
            }
        }
        if let Some(cleared) = scraps.pieces.settle(of_pieces, ppi) {
            let back = scraps.pixels(&scraps.pieces.turned(&cleared, false), evidence);
            back.into_iter().for_each(|at| turn(cover, at, false));
            let gone = scraps.removed(&scraps.pieces.turned(&cleared, true), cover, &parts.regions, evidence, ppi);
            gone.into_iter().for_each(|at| turn(cover, at, true));
        }
    }

    /// Takes all that back.
    fn turn_back(&mut self) {
        for (x, y, bits) in self.turned.drain(..).rev() {
            self.cover.cover.set(x, y, bits);
        }
    }
}

/// The painter's strokes, and stains as if the painter had cleared them.
fn with_stains(drawn: Option<&Plane<u8>>, stains: &Plane<bool>, sheet: &Sheet) -> Result<Plane<u8>> {
    let mut cleared = match drawn {
        Some(drawn) => drawn.clone(),
        None => Plane::new(sheet.width(), sheet.height(), "the stains of the paper")?,
    };
    for y in 0..sheet.height() {
        let stained = stains.row(y / 2);
        for (x, v) in cleared.row_mut(y).iter_mut().enumerate() {
            if stained[x / 2] && *v == cover::stroke::NONE {
                *v = cover::stroke::CLEAR;
            }
        }
    }
    Ok(cleared)
}

/// The island at a pixel, or the nearest within two pixels: a click may fall on the foot of its edge.
fn nearest_island(free: &Regions, number: &[usize], [x, y]: [usize; 2], [w, h]: [usize; 2]) -> Option<usize> {
    let mut around: Vec<(usize, usize)> =
        (y.saturating_sub(2)..(y + 3).min(h)).flat_map(|j| (x.saturating_sub(2)..(x + 3).min(w)).map(move |i| (i, j))).collect();
    around.sort_by_key(|(i, j)| i.abs_diff(x) + j.abs_diff(y));
    around.into_iter().find_map(|(i, j)| free.at(i, j).map(|region| number[region]).filter(|i| *i != usize::MAX))
}

#[derive(Debug)]
enum Work {
    Nothing,
    Gathering(Box<Gathering>),
    /// Contours, where coding noise hides them from the evidence beside it.
    Tracing(Box<Tracing>, Box<Evidence>),
    Trimming {
        trim: Box<Trim>,
        cover: Cover,
        strokes: Option<Plane<u8>>,
        marks: BTreeMap<marks::Kind, usize>,
    },
    Edging(Box<Edging>),
}

/// A sheet being lifted by a recipe.
#[derive(Debug)]
pub struct Lift {
    sheet: Rc<Sheet>,
    /// Pixels of this sheet to one of the recipe's: below 1 for a reduced copy.
    scale: f64,
    recipe: Recipe,
    pub(super) plan: Option<Plan>,
    pub(super) evidence: Option<Evidence>,
    /// Stains of the paper, if there are any; known with the evidence.
    stains: Option<Stains>,
    /// The regions of likely paint at the default tolerance, and which of them hold sure paint, until they are asked for.
    usual: Option<(Regions, Vec<bool>)>,
    pub(super) covered: Option<Covered>,
    matte: Option<Plane<u16>>,
    unmixer: Unmixer,
    work: Work,
}

impl Lift {
    /// A lift of a sheet by the default recipe; no work is done yet.
    #[must_use]
    pub fn new(sheet: Rc<Sheet>) -> Self {
        Self::scaled(sheet, 1.0)
    }

    /// A lift of a reduced copy, `scale` of its pixels to one of the recipe's coordinates.
    #[must_use]
    pub fn scaled(sheet: Rc<Sheet>, scale: f64) -> Self {
        let recipe = Recipe::default();
        let unmixer = Unmixer::new(dials(&recipe));
        Self {
            sheet,
            scale,
            recipe,
            plan: None,
            evidence: None,
            stains: None,
            usual: None,
            covered: None,
            matte: None,
            unmixer,
            work: Work::Nothing,
        }
    }

    /// States the resolution. What depends on millimeters is done anew.
    pub fn set_ppi(&mut self, ppi: Option<Ppi>) {
        Rc::make_mut(&mut self.sheet).set_ppi(ppi);
        self.plan = None;
        self.evidence = None;
        self.covered = None;
        self.matte = None;
        self.work = Work::Nothing;
    }

    /// The sheet.
    #[must_use]
    pub fn sheet(&self) -> &Rc<Sheet> {
        &self.sheet
    }

    /// The recipe.
    #[must_use]
    pub fn recipe(&self) -> &Recipe {
        &self.recipe
    }

    /// Takes another recipe, and drops what it makes invalid.
    pub fn set_recipe(&mut self, recipe: Recipe) {
        let old = std::mem::replace(&mut self.recipe, recipe);
        let new = &self.recipe;
        if dials(&old) != dials(new) {
            self.unmixer = Unmixer::new(dials(new));
        }
        // Stains that stay are none of the paper's own.
        let other_stains = old.tidy.stains != new.tidy.stains;
        if old.paper != new.paper || old.tidy.sheet_edge != new.tidy.sheet_edge || other_stains {
            self.plan = None;
            self.evidence = None;
        }
        if self.evidence.is_none() || old.tolerance != new.tolerance || old.tidy != new.tidy || old.strokes != new.strokes {
            self.covered = None;
            self.matte = None;
            if !matches!(self.work, Work::Gathering(_) | Work::Tracing(..)) || self.plan.is_none() {
                self.work = Work::Nothing;
            }
        }
        if old.islands != new.islands || old.decided != new.decided {
            self.matte = None;
            if matches!(self.work, Work::Edging(_)) {
                self.work = Work::Nothing;
            }
            self.decide();
        }
    }

    /// What is being worked on.
    #[must_use]
    pub fn stage(&self) -> Stage {
        match (&self.plan, &self.evidence, &self.covered, &self.matte) {
            (None, ..) => Stage::Paper,
            (_, None, ..) => Stage::Cover,
            (_, _, None, _) => Stage::Tidy,
            (_, _, _, None) => Stage::Edges,
            _ => Stage::Art,
        }
    }

    /// Whether the art is there.
    #[must_use]
    pub fn finished(&self) -> bool {
        self.stage() == Stage::Art
    }

    /// Does the next short piece of work and says how far it is, 0..1; 1 when the art is there.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn step(&mut self) -> Result<f32> {
        match self.stage() {
            Stage::Paper => self.measure_paper()?,
            Stage::Cover => self.gather()?,
            Stage::Tidy => self.find_cover()?,
            Stage::Edges => self.make_edges()?,
            Stage::Art => {}
        }
        Ok(match (&self.work, self.stage()) {
            (_, Stage::Paper) => 0.0,
            (Work::Gathering(g), _) => 0.08 + 0.3 * g.progress(),
            (Work::Tracing(t, _), _) => 0.38 + 0.07 * t.progress(),
            (Work::Trimming { .. }, _) => 0.6,
            (Work::Edging(e), _) => 0.65 + 0.34 * e.progress(),
            (Work::Nothing, Stage::Cover) => 0.08,
            (Work::Nothing, Stage::Tidy) => 0.45,
            (Work::Nothing, Stage::Edges) => 0.65,
            (Work::Nothing, Stage::Art) => 1.0,
        })
    }

    /// Works until the art is there.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn finish(&mut self) -> Result<()> {
        while !self.finished() {
            self.step()?;
        }
        Ok(())
    }

    fn measure_paper(&mut self) -> Result<()> {
        let overview = Overview::new(&self.sheet)?;
        let stated = self.recipe.paper.map(|c| c.map(|v| f32::from(v) / 255.0));
        let nothing = Plane::new(overview.mean.width(), overview.mean.height(), "the sheet's edge")?;
        let toning = self.recipe.tidy.stains == Decision::Clear;
        let first = PaperField::estimate(&overview, &nothing, stated, toning)?;
        let edge = if self.recipe.tidy.sheet_edge == Decision::Clear {
            SheetEdge::find(&self.sheet, &overview, &first, self.sheet.working_ppi())?
        } else {
            SheetEdge::default()
        };
        let field = if edge.is_none() {
            first
        } else {
            PaperField::estimate(&overview, &edge.cells(&overview, &self.sheet)?, stated, toning)?
        };
        self.plan = Some(Plan { field, edge, sigma: blur::estimate(&self.sheet) });
        Ok(())
    }

    fn gather(&mut self) -> Result<()> {
        let Some(plan) = &self.plan else { return Ok(()) };
        if !matches!(self.work, Work::Gathering(_) | Work::Tracing(..)) {
            self.work = Work::Gathering(Box::new(Gathering::new(&self.sheet, &plan.field)?));
            return Ok(());
        }
        let goes_on = match &mut self.work {
            Work::Gathering(gathering) => gathering.advance(&self.sheet, &plan.field, &plan.edge),
            Work::Tracing(tracing, _) => tracing.advance(&self.sheet, &plan.field),
            _ => false,
        };
        if goes_on {
            return Ok(());
        }
        let ppi = self.sheet.working_ppi();
        let usual = Thresholds::for_tolerance(Recipe::default().tolerance as f32);
        let mut evidence = match std::mem::replace(&mut self.work, Work::Nothing) {
            Work::Gathering(gathering) => {
                let evidence = gathering.finish(&plan.field, ppi)?;
                if evidence.noise.is_some() {
                    self.work = Work::Tracing(Box::new(Tracing::new(&self.sheet, &plan.field, ppi)?), Box::new(evidence));
                    return Ok(());
                }
                evidence
            }
            Work::Tracing(tracing, mut evidence) => {
                let contours = |noise| tracing.finish(&plan.field, &plan.edge, noise, &usual);
                evidence.contours = evidence.noise.as_ref().map(contours).transpose()?;
                *evidence
            }
            _ => return Ok(()),
        };
        // Whatever the tolerance: were stains looked for at each, a higher one could keep what a lower one clears.
        let (regions, sure) = cover::detect(&plan.field, &evidence, &plan.edge, None, &usual)?;
        self.stains = repair::stains(&evidence, &regions, &sure, plan.field.patches() > repair::UNEVEN, ppi)?;
        let stains = self.stains.as_ref().map(|stains| &stains.at);
        evidence.along_hue = AlongHue::measure(&evidence, (&regions, &sure), stains, ppi)?;
        // With hues to go by more will be found.
        self.usual = evidence.along_hue.is_none().then_some((regions, sure));
        self.evidence = Some(evidence);
        Ok(())
    }

    fn find_cover(&mut self) -> Result<()> {
        let (Some(plan), Some(evidence)) = (&self.plan, &self.evidence) else { return Ok(()) };
        let ppi = self.sheet.working_ppi();
        if let Work::Trimming { trim, cover, .. } = &mut self.work {
            if trim.advance(&self.sheet, &plan.field, evidence, cover) {
                return Ok(());
            }
            if let Work::Trimming { mut cover, strokes: drawn, mut marks, .. } = std::mem::replace(&mut self.work, Work::Nothing)
            {
                // What only the feet of edges had joined to paint stands alone now.
                let mut rules = self.rules();
                // Drops of paint among it: only the least of specks are told from them by their size.
                rules.specks = Mm(rules.specks.0.min(0.3));
                let regions = cover::solid_regions(&cover);
                let every = vec![true; regions.count()];
                let measured = marks::Measured::new(&self.sheet, &plan.field, &regions, &every, &cover.depth, ppi)?;
                let mut kinds = measured.kinds(&every, &rules);
                let size = [self.sheet.width(), self.sheet.height()];
                let each = parts::judge(&measured, &regions, size, plan.field.toned(), rules.coded, ppi);
                for (kind, part) in kinds.iter_mut().zip(&each) {
                    if rules.stains && *kind == marks::Kind::Paint && part.is_some_and(|part| part.is_stray()) {
                        *kind = marks::Kind::Stain;
                    }
                }
                let by_hand = strokes::touched(&regions, drawn.as_ref(), cover::stroke::KEEP);
                // Of lines that a drawing is made of there are more.
                let is_line = |kind: &&marks::Kind| matches!(kind, marks::Kind::Hair | marks::Kind::Pencil);
                let few = kinds.iter().filter(is_line).count() <= marks::FEW_LINES;
                let is_stray = |kind: marks::Kind| match kind {
                    marks::Kind::Stain | marks::Kind::Speck => true,
                    marks::Kind::Hair | marks::Kind::Pencil => few,
                    marks::Kind::Paint => false,
                };
                let cleared: Vec<bool> = kinds.iter().zip(&by_hand).map(|(kind, by_hand)| is_stray(*kind) && !by_hand).collect();
                for (kind, _) in kinds.iter().zip(&cleared).filter(|(_, cleared)| **cleared) {
                    *marks.entry(*kind).or_insert(0) += 1;
                }
                if cleared.contains(&true) {
                    cover.drop_regions(&regions, &cleared);
                }
                let parts = Pieces { regions, reduced: 1, each, cleared };
                cover.forget_depth();
                let mut scraps = Scraps::find(&self.sheet, &plan.field, evidence, &cover, ppi)?;
                if rules.stains {
                    let gone = scraps.removed(&scraps.pieces.cleared, &cover, &parts.regions, evidence, ppi);
                    gone.into_iter().for_each(|(x, y)| cover.bare(x, y));
                    let count = scraps.pieces.cleared.iter().filter(|cleared| **cleared).count();
                    if count > 0 {
                        *marks.entry(marks::Kind::Stain).or_insert(0) += count;
                    }
                } else {
                    scraps.pieces.cleared.fill(false);
                }
                if let Some(contours) = &evidence.contours {
                    let thresholds = Thresholds::for_tolerance(self.recipe.tolerance as f32);
                    contour::raise(&mut cover, contours, &thresholds, ppi)?;
                }
                let free = cover::free_regions(&cover);
                let open = cover::open_regions(&cover, &free);
                let enclosed = free.count();
                let (free, mut open) = bay::split(&cover, free, open, ppi)?;
                let shapes = Shape::of(&cover, &free, &open);
                let mut dry = DryBrush::find(&self.sheet, &plan.field, evidence, &free, &open, ppi)?;
                let holes = match &mut dry {
                    Some(dry) => dry.holes(&self.sheet, &plan.field, &free, &open, ppi)?,
                    None => vec![false; free.count()],
                };
                let mut small = sliver::find(evidence, &cover, &free, &open, &shapes, &holes, ppi);
                // A bay reaches the outside too: a wash runs out to it as to any ground.
                let mut outside = open.clone();
                outside[enclosed..].fill(true);
                cover::clear_regions(&mut cover, &free, &outside);
                contour::settle(&mut cover);
                let fade = Fade::find(evidence, &cover, &plan.field)?;
                let bared = fade.as_ref().map_or_else(|| vec![false; free.count()], |fade| fade.bared(&cover, &free));
                let bays = enclosed..free.count();
                let toned = plan.field.patches();
                let islands = island::find(evidence, &cover, &free, &open, &shapes, &bared, bays, toned, ppi)?;
                // What is too small to be an island is ground in a run-out, and texture of the paint elsewhere.
                let mut listed = vec![false; free.count()];
                islands.iter().for_each(|island| listed[island.region] = true);
                open.iter_mut().zip(bared).zip(listed).for_each(|((open, bared), listed)| *open |= bared && !listed);
                small.retain(|small| !open[small.region]);
                let by_hand = strokes::touched(&free, drawn.as_ref(), cover::stroke::CLEAR);
                let mut ground: Vec<bool> = open.iter().zip(&by_hand).map(|(open, by_hand)| *open || *by_hand).collect();
                islands.iter().for_each(|island| ground[island.region] = true);
                small.iter().for_each(|small| ground[small.region] = true);
                cover::mark_ground(&mut cover, &free, &ground);
                self.covered = Some(Covered {
                    cover,
                    free,
                    open,
                    by_hand,
                    islands,
                    small,
                    parts,
                    scraps,
                    of_pieces: Vec::new(),
                    turned: Vec::new(),
                    decisions: Vec::new(),
                    marks: marks.into_iter().collect(),
                    fade,
                    dry,
                });
                self.decide();
            }
            return Ok(());
        }
        let drawn = self.drawn_strokes()?;
        let thresholds = Thresholds::for_tolerance(self.recipe.tolerance as f32);
        let stains = self.stains.as_ref().filter(|_| self.recipe.tidy.stains == Decision::Clear);
        let cleared = stains.map(|stains| with_stains(drawn.as_ref(), &stains.at, &self.sheet)).transpose()?;
        // What was found when stains were looked for is still it, if there were none and nothing else was asked for.
        let same = cleared.is_none() && drawn.is_none() && self.recipe.tolerance == Recipe::default().tolerance;
        let (regions, sure) = match self.usual.take() {
            Some(usual) if same => usual,
            _ => cover::detect(&plan.field, evidence, &plan.edge, cleared.as_ref().or(drawn.as_ref()), &thresholds)?,
        };
        let mut cover = Cover::of_regions(&regions, &sure, self.sheet.width(), &plan.edge)?;
        let rules = self.rules();
        let measured = marks::Measured::new(&self.sheet, &plan.field, &regions, &sure, &cover.depth, ppi)?;
        let kinds = measured.kinds(&sure, &rules);
        let by_hand = strokes::touched(&regions, drawn.as_ref(), cover::stroke::KEEP);
        let dropped: Vec<bool> =
            kinds.iter().zip(&by_hand).map(|(kind, by_hand)| *kind != marks::Kind::Paint && !by_hand).collect();
        cover.drop_regions(&regions, &dropped);
        if let Some(drawn) = &drawn {
            cover.hold(drawn);
        }
        let mut marks: BTreeMap<_, _> = stains.map(|stains| (marks::Kind::Stain, stains.count)).into_iter().collect();
        for ((kind, sure), dropped) in kinds.iter().zip(&sure).zip(&dropped) {
            if *sure && *dropped {
                *marks.entry(*kind).or_insert(0) += 1;
            }
        }
        self.work = Work::Trimming { trim: Box::new(Trim::new(plan.sigma, ppi)), cover, strokes: drawn, marks };
        Ok(())
    }

    /// Which marks the recipe clears.
    fn rules(&self) -> marks::Rules {
        let tidy = &self.recipe.tidy;
        marks::Rules {
            specks: Mm(tidy.specks_mm),
            hairs: tidy.hairs == Decision::Clear,
            pencil: tidy.pencil == Decision::Clear,
            stains: tidy.stains == Decision::Clear,
            toned: self.plan.as_ref().is_some_and(|plan| plan.field.toned() > marks::TONED),
            coded: self.evidence.as_ref().is_some_and(|evidence| evidence.noise.is_some()),
            dark: self.plan.as_ref().is_some_and(|plan| plan.field.is_dark()),
        }
    }

    /// The painter's strokes on this sheet.
    fn drawn_strokes(&self) -> Result<Option<Plane<u8>>> {
        let strokes: Vec<strokes::Stroke> = self
            .recipe
            .strokes
            .iter()
            .map(|s| strokes::Stroke {
                decision: s.decision,
                radius: s.radius * self.scale,
                path: s.path.iter().map(|p| p.map(|v| v * self.scale)).collect(),
            })
            .collect();
        strokes::draw(self.sheet.width(), self.sheet.height(), &strokes)
    }

    /// Settles every island by the recipe, and marks what is cleared in the cover.
    fn decide(&mut self) {
        let Some(covered) = &mut self.covered else { return };
        let number = covered.numbers();
        let (w, h) = (self.sheet.width(), self.sheet.height());
        let mut by_painter = BTreeMap::new();
        let mut of_pieces = Vec::new();
        for decided in &self.recipe.decided {
            let at = decided.on(self.scale);
            match nearest_island(&covered.free, &number, at, [w, h]) {
                Some(i) => drop(by_painter.insert(i, decided.decision)),
                None => of_pieces.push((at, decided.decision)),
            }
        }
        covered.of_pieces = of_pieces;
        let said: Vec<(usize, Decision)> = by_painter.iter().map(|(i, decision)| (*i, *decision)).collect();
        island::propose(&mut covered.islands, &said, self.sheet.working_ppi());
        let settled = |(i, island): (usize, &Island)| match (by_painter.get(&i), self.recipe.islands) {
            (Some(decision), _) => (*decision, true),
            (None, Islands::Propose) => (island.proposed, false),
            (None, _) if island.is_cell() => (island.proposed, false),
            (None, Islands::Keep) if island.is_closed() => (Decision::Keep, false),
            (None, _) => (Decision::Clear, false),
        };
        covered.decisions = covered.islands.iter().enumerate().map(settled).collect();
        let mut fate: Vec<Option<bool>> = covered.open.iter().map(|open| Some(!open)).collect();
        for (island, (decision, _)) in covered.islands.iter().zip(&covered.decisions) {
            fate[island.region] = Some(*decision == Decision::Keep);
        }
        // A small island follows what is around it where nobody has said what to do with it.
        let follows = |small: &&Small| match number[small.region] {
            usize::MAX => true,
            i => !covered.decisions[i].1 && (self.recipe.islands == Islands::Propose || covered.islands[i].is_cell()),
        };
        let small = covered.small.iter().filter(follows);
        small.clone().for_each(|small| fate[small.region] = None);
        let alone =
            |small: &Small| covered.islands.get(number[small.region]).is_some_and(|island| island.is_kept_alone(small.dry));
        sliver::settle(small, &covered.open, alone, &mut fate);
        let mut clear: Vec<bool> = fate.into_iter().map(|keep| keep == Some(false)).collect();
        clear.iter_mut().zip(&covered.by_hand).for_each(|(clear, by_hand)| *clear |= by_hand);
        covered.turn_back();
        cover::clear_regions(&mut covered.cover, &covered.free, &clear);
        contour::settle(&mut covered.cover);
        if let Some(evidence) = &self.evidence {
            covered.turn(evidence, self.sheet.working_ppi());
        }
    }

    fn make_edges(&mut self) -> Result<()> {
        let (Some(plan), Some(evidence), Some(covered)) = (&self.plan, &self.evidence, &self.covered) else { return Ok(()) };
        if !matches!(self.work, Work::Edging(_)) {
            let tolerance = self.recipe.tolerance as f32;
            let edging = Edging::new(&self.sheet, &plan.field, evidence, &covered.cover, plan.sigma, tolerance)?;
            self.work = Work::Edging(Box::new(edging));
            return Ok(());
        }
        let Work::Edging(edging) = &mut self.work else { return Ok(()) };
        if edging.advance(&self.sheet, &plan.field, evidence, &covered.cover, covered.dry.as_ref()) {
            return Ok(());
        }
        if let Work::Edging(edging) = std::mem::replace(&mut self.work, Work::Nothing) {
            let mut matte = edging.into_matte();
            if let Some(fade) = &covered.fade {
                fade.apply(&self.sheet, &plan.field, evidence, &covered.cover, &mut matte);
            }
            self.matte = Some(matte);
        }
        Ok(())
    }

    /// Takes the matte of a finished lift of a sheet `factor` times as large, each pixel the mean of those that it stands for:
    /// laid on a ground in encoded values, means of art are the art of means.
    pub(super) fn take_matte(&mut self, large: &Self, factor: usize) -> Result<()> {
        let Some(from) = &large.matte else { return Ok(()) };
        let (w, h) = (self.sheet.width(), self.sheet.height());
        let mut matte: Plane<u16> = Plane::new(w, h, "the view from afar")?;
        let mut sums = vec![0_u32; w];
        let pixels = (factor * factor) as u32;
        for y in 0..h {
            sums.fill(0);
            for row in y * factor..(y + 1) * factor {
                for (sum, values) in sums.iter_mut().zip(from.row(row).chunks_exact(factor)) {
                    *sum += values.iter().map(|v| u32::from(*v)).sum::<u32>();
                }
            }
            matte.row_mut(y).iter_mut().zip(&sums).for_each(|(mean, sum)| *mean = ((sum + pixels / 2) / pixels) as u16);
        }
        self.matte = Some(matte);
        Ok(())
    }

    /// The paper field, once it is known.
    #[must_use]
    pub fn field(&self) -> Option<&PaperField> {
        self.plan.as_ref().map(|p| &p.field)
    }

    /// The islands with what is done with each, and whether the painter said so; those to ask about first, the biggest doubt before
    /// others, tiny ones left out.
    #[must_use]
    pub fn islands(&self) -> Vec<(usize, &Island, Decision, bool)> {
        let is_listed = |(_, island, _, decided): &(usize, &Island, Decision, bool)| *decided || island.is_listed();
        let mut listed: Vec<_> = self.every_island().filter(is_listed).collect();
        listed.sort_by(|a, b| {
            let doubt = a.1.confidence.total_cmp(&b.1.confidence).then(b.1.pixels.cmp(&a.1.pixels)).then(a.0.cmp(&b.0));
            b.1.asked.cmp(&a.1.asked).then(doubt)
        });
        listed
    }

    /// As [`Self::islands`], tiny ones and all, in the order of their numbers.
    pub fn every_island(&self) -> impl Iterator<Item = (usize, &Island, Decision, bool)> {
        self.covered.iter().flat_map(|covered| {
            let decided = covered.islands.iter().zip(&covered.decisions).enumerate();
            decided.map(|(i, (island, (decision, decided)))| (i, island, *decision, *decided))
        })
    }

    /// What lies apart from the painting, with what is thought of it.
    pub fn parts(&self) -> impl Iterator<Item = &Part> {
        self.covered.iter().flat_map(|covered| covered.parts.each.iter().flatten())
    }

    /// What is pale and hangs on strong paint, with what is thought of it.
    pub fn scraps(&self) -> impl Iterator<Item = &Scrap> {
        self.covered.iter().flat_map(|covered| covered.scraps.pieces.each.iter().flatten())
    }

    /// The island at a pixel of this sheet or within two pixels of it.
    #[must_use]
    pub fn island_at(&self, x: usize, y: usize) -> Option<usize> {
        let covered = self.covered.as_ref()?;
        nearest_island(&covered.free, &covered.numbers(), [x, y], [self.sheet.width(), self.sheet.height()])
    }

    /// What the painter points at with a pixel of this sheet, if it is a piece, up to `reach` pixels away, and no island.
    #[must_use]
    pub fn piece_at(&self, x: usize, y: usize, reach: usize) -> Option<Pointed> {
        let covered = self.covered.as_ref().filter(|_| self.island_at(x, y).is_none())?;
        let (said, ppi) = (&covered.of_pieces, self.sheet.working_ppi());
        let (parts, scraps) = (&covered.parts, &covered.scraps.pieces);
        // A scrap may hang on what lies apart itself: then the whole is meant.
        match (parts.nearest([x, y], reach), scraps.nearest([x, y], reach)) {
            (Some((off, part)), scrap) if scrap.is_none_or(|scrap| off <= scrap.0) => parts.pointed(part, said, ppi),
            (_, scrap) => scraps.pointed(scrap?.1, said, ppi),
        }
    }

    /// The outline of an island as line segments x0, y0, x1, y1; empty when there is no such island.
    #[must_use]
    pub fn island_outline(&self, index: usize) -> Vec<f32> {
        let Some(covered) = &self.covered else { return Vec::new() };
        covered.islands.get(index).map_or_else(Vec::new, |island| island::outline(&covered.free, island))
    }

    /// Writes columns `x0..` of one row of art, 8 bits a channel, into `out`; zeros before the art is there.
    pub fn row8(&self, source: &mut RowSource<'_>, y: usize, x0: usize, out: &mut [u8]) {
        match &self.matte {
            Some(matte) => self.unmixer.row8(source, matte, y, x0, out),
            None => out.fill(0),
        }
    }

    /// Writes one row of art, 16 bits a channel, into `out`; zeros before the art is there.
    pub fn row16(&self, source: &mut RowSource<'_>, y: usize, out: &mut [u16]) {
        match &self.matte {
            Some(matte) => self.unmixer.row16(source, matte, y, out),
            None => out.fill(0),
        }
    }

    /// Left, top, width and height of what is saved, in pixels of this sheet.
    #[must_use]
    pub fn trimmed(&self) -> [usize; 4] {
        let (w, h) = (self.sheet.width(), self.sheet.height());
        self.recipe.trim.map_or([0, 0, w, h], |trim| {
            let [x, y, width, height] = trim.map(|v| (f64::from(v) * self.scale) as usize);
            let (x, y) = (x.min(w - 1), y.min(h - 1));
            [x, y, width.clamp(1, w - x), height.clamp(1, h - y)]
        })
    }

    /// The art in memory, trimmed as the recipe says, 8 bits a channel.
    ///
    /// # Errors
    /// When there is no memory, or the lift fails.
    pub fn art(&mut self) -> Result<Art> {
        self.finish()?;
        let [left, top, w, h] = self.trimmed();
        let mut pixels = crate::error::zeroed(w * h * 4, "the lifted painting")?;
        if let Some(plan) = &self.plan {
            let mut source = RowSource::new(&self.sheet, &plan.field);
            for (y, row) in pixels.chunks_exact_mut(w * 4).enumerate() {
                self.row8(&mut source, top + y, left, row);
            }
        }
        Ok(Art { width: w, height: h, ppi: self.sheet.ppi(), pixels: Pixels::Eight(pixels) })
    }
}

fn dials(recipe: &Recipe) -> Dials {
    let share = |v: f64| (v / 100.0) as f32;
    Dials { soft: share(recipe.soft), rim: share(recipe.rim), body: share(recipe.body) }
}
