//! The door to the home network: who comes through it, and how a device is paired.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use axum::extract::{Request, State};
use axum::http::header::{COOKIE, SET_COOKIE};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use interstice_glucose::Second;
use interstice_home::{Codes, Household, Tried};
use interstice_tongue::{current, say, within};

use crate::Trouble;
use crate::bucket::Bucket;
use crate::push::comes_by_token;

/// A browser sends a cookie of this kind only over a secure connection, to this host alone, and no page of another host
/// can set it.
const COOKIE_NAME: &str = "__Host-interstice";

/// As long as a device may stay paired; the household decides whether it still is.
const COOKIE_S: u64 = 180 * 86_400;

/// Tries at pairing at once and in a minute after that, from all devices together.
const TRIES_AT_ONCE: u32 = 10;
const TRIES_A_MINUTE: u32 = 6;

/// A wrong try is answered no sooner than this.
const WRONG_WAITS: Duration = Duration::from_secs(1);

/// Where a device is paired.
pub(crate) const PAIR: &str = "/home/pair";

/// What the app needs to let others in.
pub struct Door {
    household: Household,
    now: fn() -> Second,
    codes: Mutex<Codes>,
    tries: Mutex<Bucket>,
    /// One slow digest at a time: they take memory.
    proving: Mutex<()>,
    /// The certificate that devices may take in.
    root: Vec<u8>,
    /// Whether anybody can be let in.
    at_home: bool,
    told: Box<dyn Fn(&str) + Send + Sync>,
}

impl Door {
    /// A door that stays shut: devices and links are looked after, and no device is paired.
    pub fn shut(household: Household, now: fn() -> Second) -> Arc<Self> {
        Arc::new(Door::new(household, now, Vec::new(), false, Box::new(|_| {})))
    }

    /// A door to the home network. `told` hears who was paired and who tried in vain.
    pub fn at_home(
        household: Household,
        now: fn() -> Second,
        root: Vec<u8>,
        told: Box<dyn Fn(&str) + Send + Sync>,
    ) -> Arc<Self> {
        Arc::new(Door::new(household, now, root, true, told))
    }

    fn new(
        household: Household,
        now: fn() -> Second,
        root: Vec<u8>,
        at_home: bool,
        told: Box<dyn Fn(&str) + Send + Sync>,
    ) -> Self {
        Door {
            household,
            now,
            codes: Mutex::default(),
            tries: Mutex::new(Bucket::full(TRIES_AT_ONCE, TRIES_A_MINUTE, Instant::now())),
            proving: Mutex::new(()),
            root,
            at_home,
            told,
        }
    }

    /// A new code for one more device, to be shown where only the keeper of this machine sees it.
    ///
    /// # Errors
    /// `Internal` where the machine gives no random numbers.
    pub fn show_code(&self) -> Result<String, Trouble> {
        let mut codes = self.codes.lock().unwrap_or_else(PoisonError::into_inner);
        Ok(codes.show(Instant::now())?)
    }

    pub(crate) fn household(&self) -> &Household {
        &self.household
    }

    pub(crate) fn now(&self) -> Second {
        (self.now)()
    }

    pub(crate) fn root(&self) -> &[u8] {
        &self.root
    }

    pub(crate) fn is_at_home(&self) -> bool {
        self.at_home
    }

    /// Pairs a device that has both the code and the passphrase; answers its cookie.
    pub(crate) async fn pair(self: &Arc<Self>, said: Pairing) -> Result<HeaderValue, Trouble> {
        if !self.at_home {
            return Err(Trouble::NotFound);
        }
        let held = self
            .tries
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take(Instant::now());
        held.map_err(Trouble::TooMany)?;
        let begun = tokio::time::Instant::now();
        let (door, tongue) = (Arc::clone(self), current());
        let paired = tokio::task::spawn_blocking(move || within(tongue, || door.prove(&said))).await;
        let paired = paired.map_err(|_| Trouble::Internal("the try was not finished".to_owned()))?;
        if paired.is_err() {
            tokio::time::sleep_until(begun + WRONG_WAITS).await;
        }
        paired
    }

    fn prove(&self, said: &Pairing) -> Result<HeaderValue, Trouble> {
        let knows = {
            let _one = self.proving.lock().unwrap_or_else(PoisonError::into_inner);
            self.household.knows(&said.passphrase)?
        };
        let mut codes = self.codes.lock().unwrap_or_else(PoisonError::into_inner);
        let tried = codes.try_one(&said.code, knows, Instant::now());
        drop(codes);
        let why = match tried {
            Tried::Right => {
                let secret = self.household.pair(&said.name, self.now())?;
                (self.told)(&format!("paired: {}", said.name.trim()));
                let cookie = format!(
                    "{COOKIE_NAME}={secret}; Path=/; Max-Age={COOKIE_S}; Secure; HttpOnly; SameSite=Strict"
                );
                return HeaderValue::from_str(&cookie)
                    .map_err(|_| Trouble::Internal("a device could not be paired".to_owned()));
            }
            Tried::Wrong => say!("error-pair-wrong"),
            Tried::None => say!("error-pair-no-code"),
        };
        (self.told)("a device tried to be paired in vain");
        Err(Trouble::Refused(why))
    }
}

/// What a device says to be paired.
#[derive(Debug, serde::Deserialize)]
pub(crate) struct Pairing {
    code: String,
    passphrase: String,
    name: String,
}

/// Through the door come paired devices, and what is sent by a token; others see how to be paired, the page of a link, and
/// what tells of nothing.
pub(crate) async fn admit(State(door): State<Arc<Door>>, request: Request, next: Next) -> Response {
    let path = request.uri().path();
    let open = path == PAIR
        || path == "/home/root.crt"
        || path == "/app.webmanifest"
        || path == "/favicon.ico"
        || path.starts_with("/assets/")
        || (path.starts_with("/link/") && request.method() == Method::GET)
        || comes_by_token(request.method(), path, request.headers());
    if open {
        return next.run(request).await;
    }
    let secret = secret_of(request.headers()).map(str::to_owned);
    let asked = Arc::clone(&door);
    let device = tokio::task::spawn_blocking(move || match secret {
        Some(secret) => asked.household.device_of(&secret, asked.now()),
        None => Ok(None),
    });
    match device.await {
        Ok(Ok(Some(_))) => next.run(request).await,
        Ok(Ok(None)) if request.method() == Method::GET && wants_a_page(&request) => {
            Redirect::to(PAIR).into_response()
        }
        Ok(Ok(None)) => (
            StatusCode::UNAUTHORIZED,
            "this device is not paired; open /home/pair\n",
        )
            .into_response(),
        Ok(Err(error)) => Trouble::from(error).into_response(),
        Err(_) => Trouble::Internal("the door did not answer".to_owned()).into_response(),
    }
}

fn wants_a_page(request: &Request) -> bool {
    let accept = request
        .headers()
        .get("accept")
        .and_then(|value| value.to_str().ok());
    accept.is_some_and(|accept| accept.contains("text/html"))
}

fn secret_of(headers: &HeaderMap) -> Option<&str> {
    let cookies = headers.get_all(COOKIE).iter();
    cookies
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(';'))
        .find_map(|pair| pair.trim().strip_prefix(COOKIE_NAME)?.strip_prefix('='))
}

/// Lets a device in that was paired just now.
pub(crate) fn welcome(cookie: HeaderValue) -> Response {
    let mut answer = Redirect::to("/now").into_response();
    answer.headers_mut().insert(SET_COOKIE, cookie);
    answer
}

impl From<interstice_home::HomeError> for Trouble {
    fn from(error: interstice_home::HomeError) -> Self {
        match error {
            interstice_home::HomeError::Request(why) => Trouble::Request(why),
            other => Trouble::Internal(other.to_string()),
        }
    }
}
