//! Plain text in blocks.

use silkward::reckoning::prose::{Block, Piece, ProseError, blocks, fields};

fn words(text: &str) -> Piece {
    Piece::Words(text.to_owned())
}

fn field(name: &str) -> Piece {
    Piece::Field(name.to_owned())
}

#[test]
fn each_line_is_a_paragraph_and_lines_with_a_dash_are_a_list() {
    let read = blocks("One.\n\n  Two, every {{ feed.adult }} days.  \n- first\n-  second {{practice}}\n\n- another list\nEnd - not a list")
        .unwrap();
    let expected = [
        Block::Paragraph(vec![words("One.")]),
        Block::Paragraph(vec![words("Two, every "), field("feed.adult"), words(" days.")]),
        Block::List(vec![vec![words("first")], vec![words("second "), field("practice")]]),
        Block::List(vec![vec![words("another list")]]),
        Block::Paragraph(vec![words("End - not a list")]),
    ];
    assert_eq!(read, expected);
    assert_eq!(fields(&read).collect::<Vec<_>>(), ["feed.adult", "practice"]);
    assert_eq!(blocks(" \n\n").unwrap(), []);
}

#[test]
fn what_looks_like_markup_is_text() {
    let read = blocks("<b>{one}</b> & *two*\n-three").unwrap();
    assert_eq!(read, [Block::Paragraph(vec![words("<b>{one}</b> & *two*")]), Block::Paragraph(vec![words("-three")])]);
}

#[test]
fn fields_that_are_opened_or_closed_only_are_refused() {
    for wrong in ["every {{feed.adult days", "every feed.adult}} days", "{{a {{b}}", "{{a}} }}", "- {{", "{{a}} b}} {{c}}"] {
        assert!(matches!(blocks(wrong), Err(ProseError::Unbalanced(_))), "{wrong}");
    }
    assert_eq!(blocks("- one\n-  \n- two"), Err(ProseError::EmptyItem));
    assert_eq!(blocks("-"), Err(ProseError::EmptyItem));
    assert_eq!(blocks("{{}}").unwrap(), [Block::Paragraph(vec![field("")])]);
}
