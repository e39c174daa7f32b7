//! What a pixel of the truth shows.

/// Kinds of paint, of bare paper and of marks: one byte a pixel in a truth's labels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Element {
    /// Bare paper.
    Bare = 0,
    /// A flat area with a crisp edge.
    Hard = 1,
    /// A wash with a tideline.
    Wash = 2,
    /// A wash that runs out to nothing.
    Fade = 3,
    /// Dry brush.
    Dry = 4,
    /// A line.
    Line = 5,
    /// A wash a few counts from the paper.
    Pale = 6,
    /// Paper left white inside paint: part of the picture.
    Reserved = 7,
    /// White body color.
    Gouache = 8,
    /// Splatter.
    Splatter = 9,
    /// Bare paper enclosed by paint, no part of the picture.
    Pocket = 20,
    /// A speck of dust.
    Dust = 21,
    /// A hair or fiber.
    Hair = 22,
    /// A pencil line.
    Graphite = 23,
    /// A smudge.
    Smudge = 24,
    /// A pale stray streak of paint.
    Stray = 25,
    /// Off the sheet: lid and shadow.
    Outside = 26,
    /// Not scored: specks of paper too small to be seen, closed in by paint.
    Ignored = 255,
}

impl Element {
    /// All kinds of paint.
    pub const PAINT: [Self; 9] =
        [Self::Hard, Self::Wash, Self::Fade, Self::Dry, Self::Line, Self::Pale, Self::Reserved, Self::Gouache, Self::Splatter];
    /// All kinds of what must be taken away, other than plain paper.
    pub const TAKEN: [Self; 7] = [Self::Pocket, Self::Dust, Self::Hair, Self::Graphite, Self::Smudge, Self::Stray, Self::Outside];

    /// The word for it in a table.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Bare => "bare",
            Self::Hard => "hard",
            Self::Wash => "wash",
            Self::Fade => "fade",
            Self::Dry => "dry",
            Self::Line => "line",
            Self::Pale => "pale",
            Self::Reserved => "reserved",
            Self::Gouache => "gouache",
            Self::Splatter => "splatter",
            Self::Pocket => "pocket",
            Self::Dust => "dust",
            Self::Hair => "hair",
            Self::Graphite => "graphite",
            Self::Smudge => "smudge",
            Self::Stray => "stray",
            Self::Outside => "outside",
            Self::Ignored => "ignored",
        }
    }
}
