//! A care-sheet text as it is drawn: its blocks with the figures put in, each with the mark of what it rests on.

use super::text::{COMMON_PRACTICE, PRACTICE, Sections, TextFigures, TextSection};
use crate::reckoning::language::Language;
use crate::reckoning::prose::{Block, Piece, ProseError, blocks};

/// The marks of footnotes, in their order.
const MARKS: [&str; 6] = ["*", "†", "‡", "§", "‖", "¶"];

/// A part of a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DrawnPiece {
    /// Words as written.
    Words(String),
    /// A figure with the mark of its footnote.
    Figure(String, &'static str),
    /// A scientific name.
    Name(String),
    /// The mark of a footnote alone.
    Mark(&'static str),
    /// A field that stands for nothing, as it was written.
    Unknown(String),
}

/// A block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DrawnBlock {
    /// A paragraph.
    Paragraph(Vec<DrawnPiece>),
    /// A list.
    List(Vec<Vec<DrawnPiece>>),
}

/// A section.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrawnSection {
    /// Which.
    pub section: TextSection,
    /// Its blocks.
    pub blocks: Vec<DrawnBlock>,
}

/// A footnote.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Footnote {
    /// Its mark.
    pub mark: &'static str,
    /// What figures with that mark rest on.
    pub basis: String,
}

impl Footnote {
    /// Whether it is the one of common practice, which every language words by itself.
    #[must_use]
    pub fn is_common_practice(&self) -> bool {
        self.basis == COMMON_PRACTICE
    }
}

/// A text as it is drawn.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DrawnText {
    /// The sections that hold something.
    pub sections: Vec<DrawnSection>,
    /// The footnotes of the marks that stand in them.
    pub notes: Vec<Footnote>,
}

/// Draws a text. A section that can't be read in blocks stands as it was typed: the form says what is wrong with it.
#[must_use]
pub fn draw(sections: &Sections, figures: &TextFigures, language: &Language) -> DrawnText {
    let mut drawn = DrawnText::default();
    for section in TextSection::ALL {
        let typed = sections.of(*section);
        if typed.trim().is_empty() {
            continue;
        }
        let read = blocks(typed).unwrap_or_else(|_| vec![Block::Paragraph(vec![Piece::Words(typed.to_owned())])]);
        let mut pen = Pen { figures, language, notes: &mut drawn.notes };
        let blocks = read.iter().map(|block| pen.block(block)).collect();
        drawn.sections.push(DrawnSection { section: *section, blocks });
    }
    drawn
}

/// What is wrong with a section, as a sentence for its writer; nothing when it can be printed.
#[must_use]
pub fn trouble(typed: &str, figures: &TextFigures) -> Option<String> {
    let read = match blocks(typed) {
        Ok(read) => read,
        Err(error @ (ProseError::Unbalanced(_) | ProseError::EmptyItem)) => return Some(crate::house::text::sentence(&error)),
    };
    let unknown: Vec<String> =
        crate::reckoning::prose::fields(&read).filter(|field| !figures.knows(field)).map(|field| format!("{{{{{field}}}}}")).collect();
    (!unknown.is_empty()).then(|| format!("There is no field {}. The fields are listed below the form.", unknown.join(", ")))
}

struct Pen<'a> {
    figures: &'a TextFigures,
    language: &'a Language,
    notes: &'a mut Vec<Footnote>,
}

impl Pen<'_> {
    fn block(&mut self, block: &Block) -> DrawnBlock {
        match block {
            Block::Paragraph(line) => DrawnBlock::Paragraph(self.line(line)),
            Block::List(items) => DrawnBlock::List(items.iter().map(|item| self.line(item)).collect()),
        }
    }

    fn line(&mut self, pieces: &[Piece]) -> Vec<DrawnPiece> {
        pieces.iter().map(|piece| self.piece(piece)).collect()
    }

    fn piece(&mut self, piece: &Piece) -> DrawnPiece {
        match piece {
            Piece::Words(words) => DrawnPiece::Words(words.clone()),
            Piece::Field(field) if field == PRACTICE => DrawnPiece::Mark(self.mark(COMMON_PRACTICE)),
            Piece::Field(field) => match (self.figures.latin(field), self.figures.figure(field)) {
                (Some(name), _) => DrawnPiece::Name(name.to_owned()),
                (None, Some(figure)) => DrawnPiece::Figure(figure.in_language(self.language), self.mark(&figure.basis)),
                (None, None) => DrawnPiece::Unknown(format!("{{{{{field}}}}}")),
            },
        }
    }

    /// The mark of a basis: the same wherever it comes again. Beyond the last mark, further bases share it.
    fn mark(&mut self, basis: &str) -> &'static str {
        if let Some(note) = self.notes.iter().find(|note| note.basis == basis) {
            return note.mark;
        }
        let last = MARKS.last().copied().unwrap_or("*");
        let mark = MARKS.get(self.notes.len()).copied().unwrap_or(last);
        self.notes.push(Footnote { mark, basis: basis.to_owned() });
        mark
    }
}
