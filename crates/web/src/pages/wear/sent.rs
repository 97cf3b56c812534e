//! What a form of the Wear page sends: named values, and a photo where one was chosen.

use axum::extract::{FromRequest, FromRequestParts, Multipart, Request};
use axum::http::header::CONTENT_TYPE;
use axum::http::request::Parts;
use axum::{Form, RequestExt};

use crate::{Trouble, Upload};

/// A form with the largest photo in it and its words, bytes.
pub(super) const FORM_AT_MOST: usize = interstice_desk::LARGEST_PHOTO + 100_000;

/// What a form says; a name may stand more than once.
#[derive(Debug, Default)]
pub(super) struct Filled(pub(super) Vec<(String, String)>);

impl Filled {
    pub(super) fn all(&self, name: &str) -> Vec<String> {
        let values = self.0.iter().filter(|(key, _)| key == name);
        let values = values.map(|(_, value)| value.trim().to_owned());
        values.filter(|value| !value.is_empty()).collect()
    }

    pub(super) fn one(&self, name: &str) -> Option<String> {
        self.all(name).into_iter().next()
    }

    /// One of a list by its name; nothing where nothing was chosen.
    pub(super) fn choice<T: Copy, const N: usize>(
        &self,
        field: &str,
        all: [T; N],
        name: fn(T) -> &'static str,
    ) -> Result<Option<T>, Trouble> {
        let Some(asked) = self.one(field) else {
            return Ok(None);
        };
        let found = all.into_iter().find(|&one| name(one) == asked);
        let unknown = || {
            Trouble::Request(format!(
                "'{asked}' is none of the choices; choose one of the list"
            ))
        };
        found.ok_or_else(unknown).map(Some)
    }

    /// A whole number that is not below 0; nothing where nothing was written.
    pub(super) fn whole<T: std::str::FromStr>(&self, field: &str, what: &str) -> Result<Option<T>, Trouble> {
        let number = self.one(field).map(|text| {
            let wrong = || Trouble::Request(format!("'{text}' is not {what}; write a whole number"));
            text.parse::<T>().map_err(|_| wrong())
        });
        number.transpose()
    }
}

/// A form that asks and writes nothing: what stands in the address.
pub(super) struct Asked(pub(super) Filled);

impl<S: Send + Sync> FromRequestParts<S> for Asked {
    type Rejection = Trouble;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Trouble> {
        let fields = serde_urlencoded::from_str(parts.uri.query().unwrap_or_default());
        let broken = |_| Trouble::Request("the address cannot be read; fill in the form again".to_owned());
        fields.map(|fields| Asked(Filled(fields))).map_err(broken)
    }
}

/// A form as it came.
#[derive(Debug, Default)]
pub(super) struct Sent {
    pub(super) filled: Filled,
    /// The photo, where one was chosen.
    pub(super) photo: Option<Upload>,
}

impl<S: Send + Sync> FromRequest<S> for Sent {
    type Rejection = Trouble;

    /// In parts, as a form with a photo sends it, or in one line.
    async fn from_request(request: Request, state: &S) -> Result<Self, Trouble> {
        let kind = request.headers().get(CONTENT_TYPE);
        let in_parts = kind.is_some_and(|kind| kind.as_bytes().starts_with(b"multipart/form-data"));
        let broken = || Trouble::Request("the form did not arrive whole; try again".to_owned());
        if in_parts {
            let parts = Multipart::from_request(request, state).await;
            return of_parts(parts.map_err(|_| broken())?).await;
        }
        let Form(fields) = request
            .extract::<Form<Vec<(String, String)>>, _>()
            .await
            .map_err(|_| broken())?;
        Ok(Sent {
            filled: Filled(fields),
            photo: None,
        })
    }
}

async fn of_parts(mut form: Multipart) -> Result<Sent, Trouble> {
    let broken = |error: axum::extract::multipart::MultipartError| {
        let what = if error.status() == axum::http::StatusCode::PAYLOAD_TOO_LARGE {
            "the photo is larger than 8 MB; save it smaller and bring it again"
        } else {
            "the form did not arrive whole; try again"
        };
        Trouble::Request(what.to_owned())
    };
    let mut sent = Sent::default();
    while let Some(field) = form.next_field().await.map_err(broken)? {
        let Some(name) = field.name().map(str::to_owned) else {
            continue;
        };
        if name == "photo" {
            let file = field.file_name().unwrap_or("photo").to_owned();
            let bytes = field.bytes().await.map_err(broken)?.to_vec();
            // A browser sends an empty file where none was chosen.
            sent.photo = (!bytes.is_empty()).then_some(Upload { name: file, bytes });
        } else {
            sent.filled.0.push((name, field.text().await.map_err(broken)?));
        }
    }
    Ok(sent)
}
