//! Writing pictures to files. One file a format; nothing here changes a pixel.

pub mod png;
