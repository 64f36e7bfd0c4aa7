//! Plain text of paragraphs and lists, with fields that figures are put in: `every {{feed.spiderling}} days`.

use serde::Serialize;

/// A part of a line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Piece {
    /// Words as written.
    Words(String),
    /// The name of a field.
    Field(String),
}

/// A block of text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Block {
    /// One line that does not begin with `- `.
    Paragraph(Vec<Piece>),
    /// Lines that follow one another and begin with `- `.
    List(Vec<Vec<Piece>>),
}

/// What is wrong with a text.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ProseError {
    /// `{{` without `}}`, or the other way round.
    #[error("“{0}” is opened or closed only: a field is written {{{{name}}}}")]
    Unbalanced(String),
    /// A list item with nothing in it.
    #[error("a line of a list is empty")]
    EmptyItem,
}

/// The text in blocks: each line that is not empty is a paragraph, and lines that begin with `- ` are a list.
///
/// # Errors
/// A field that is opened and not closed, or closed and not opened; an empty line of a list.
pub fn blocks(text: &str) -> Result<Vec<Block>, ProseError> {
    let mut blocks: Vec<Block> = Vec::new();
    let mut list_goes_on = false;
    for line in text.lines() {
        let line = line.trim();
        let item = line.strip_prefix("- ").or_else(|| (line == "-").then_some(""));
        match item {
            Some(item) => {
                let item = pieces(item.trim())?;
                if item.is_empty() {
                    return Err(ProseError::EmptyItem);
                }
                match blocks.last_mut() {
                    Some(Block::List(items)) if list_goes_on => items.push(item),
                    _ => blocks.push(Block::List(vec![item])),
                }
            }
            None if !line.is_empty() => blocks.push(Block::Paragraph(pieces(line)?)),
            None => {}
        }
        list_goes_on = item.is_some();
    }
    Ok(blocks)
}

/// A line in its pieces.
fn pieces(line: &str) -> Result<Vec<Piece>, ProseError> {
    let mut pieces = Vec::new();
    let mut rest = line;
    while let Some((before, after)) = rest.split_once("{{") {
        let (name, further) = after.split_once("}}").ok_or_else(|| unbalanced(after))?;
        if before.contains("}}") || name.contains("{{") {
            return Err(unbalanced(if before.contains("}}") { before } else { name }));
        }
        words(&mut pieces, before);
        pieces.push(Piece::Field(name.trim().to_owned()));
        rest = further;
    }
    if rest.contains("}}") {
        return Err(unbalanced(rest));
    }
    words(&mut pieces, rest);
    Ok(pieces)
}

fn words(pieces: &mut Vec<Piece>, text: &str) {
    if !text.is_empty() {
        pieces.push(Piece::Words(text.to_owned()));
    }
}

/// The first words of where it happened, short enough for a message.
fn unbalanced(near: &str) -> ProseError {
    ProseError::Unbalanced(near.chars().take(30).collect::<String>().trim().to_owned())
}

/// The names of the fields of a text, in the order of the text.
pub fn fields(blocks: &[Block]) -> impl Iterator<Item = &str> {
    let lines = blocks.iter().flat_map(|block| match block {
        Block::Paragraph(line) => std::slice::from_ref(line),
        Block::List(lines) => lines.as_slice(),
    });
    lines.flatten().filter_map(|piece| match piece {
        Piece::Field(name) => Some(name.as_str()),
        Piece::Words(_) => None,
    })
}
