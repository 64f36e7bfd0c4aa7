//! The letters of a recall: one for each buyer, with all of their animals in it and nobody else's.

use super::{concerned, note_contact, require};
use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::ids::RecallId;
use crate::house::site::Site;
use crate::house::write::Write;
use crate::papers;
use crate::papers::model::{About, Issued, NewPaper, PaperKind};
use crate::sales::letter;
use crate::sales::model::recall::ContactKind;

/// Issues a letter to each buyer of a recall who has none yet; those who were erased get none. Gives the letters.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such recall; the database can't be written.
pub async fn write_letters(write: &mut Write, app: &App, id: RecallId) -> Result<Vec<Issued>, AppError> {
    let recall = require(write.db(), id).await?;
    let site = Site::read(write.db()).await?;
    let day = write.today;
    let mut letters = Vec::new();
    for concerned in concerned(write.db(), id).await? {
        if concerned.buyer.is_erased() || concerned.letter().is_some() {
            continue;
        }
        let number = papers::store::next_number(write, PaperKind::RecallLetter).await?;
        let paper = NewPaper {
            kind: PaperKind::RecallLetter,
            body: letter::body(&site, &number, day, &recall, &concerned.found)?,
            person: Some(letter::person(&concerned.buyer)?),
            number,
            about: About { buyer: Some(concerned.buyer.id), ..About::default() },
            profile: None,
            language: "en".to_owned(),
            title: format!("recall {id}: {} of {}", recall.subject(), recall.species),
            link: false,
        };
        let issued = papers::store::freeze(write, app, paper).await?;
        note_contact(write, id, concerned.buyer.id, ContactKind::Letter, Some(issued.id), "").await?;
        letters.push(issued);
    }
    Ok(letters)
}
