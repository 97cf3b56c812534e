//! The timeline of a page, in a browser: where it is, what it reads out, and hands on it.

use std::path::Path;
use std::time::Duration;

use fantoccini::actions::{InputSource, MOUSE_BUTTON_LEFT, MouseActions, PointerAction, TouchActions};
use fantoccini::{Client, Locator};
use serde_json::{Value, json};

use super::browser::{Driver, Look, browser};

pub(crate) const DAY_S: f64 = 86_400.0;

/// The timeline of a page, in a browser.
pub(crate) struct Timeline {
    pub(crate) client: Client,
}

impl Timeline {
    pub(crate) async fn open(driver: &Driver, look: Look, address: &str, path: &str, profile: &Path) -> Self {
        let client = browser(driver, look, profile).await;
        let timeline = Timeline { client };
        timeline.go(&format!("{address}{path}")).await;
        timeline
    }

    pub(crate) async fn go(&self, address: &str) {
        self.client.goto(address).await.unwrap();
        self.settled().await;
    }

    /// Draws once more and says what went wrong, if anything did.
    pub(crate) async fn redraw(&self) {
        let script = "const done = arguments[0]; const said = e => done(String(e.message)); \
            addEventListener('error', said, { once: true }); \
            const before = interstice.timeline.counters.draws; \
            document.querySelector('#timeline canvas').dispatchEvent(new PointerEvent('pointermove', { clientX: 300, clientY: 400 })); \
            setTimeout(() => done(interstice.timeline.counters.draws > before ? 'drawn' : 'not drawn'), 700)";
        assert_eq!(
            self.client.execute_async(script, vec![]).await.unwrap(),
            json!("drawn")
        );
    }

    pub(crate) async fn ask(&self, script: &str) -> Value {
        self.client.execute(script, vec![]).await.unwrap()
    }

    pub(crate) async fn number(&self, script: &str) -> f64 {
        self.ask(script).await.as_f64().unwrap()
    }

    /// Until everything asked for has come and been drawn, and the address says where it is.
    pub(crate) async fn settled(&self) {
        for _ in 0..200 {
            tokio::time::sleep(Duration::from_millis(50)).await;
            if self
                .ask("return Boolean(window.interstice?.timeline?.ready())")
                .await
                == json!(true)
            {
                tokio::time::sleep(Duration::from_millis(400)).await;
                return;
            }
        }
        panic!(
            "the timeline did not settle: {}",
            self.ask("return JSON.stringify(window.interstice ?? null)").await
        );
    }

    /// First and last instant shown.
    pub(crate) async fn view(&self) -> (f64, f64) {
        let view = self.ask("return interstice.timeline.view()").await;
        (view["from"].as_f64().unwrap(), view["to"].as_f64().unwrap())
    }

    pub(crate) async fn length(&self) -> f64 {
        let (from, to) = self.view().await;
        to - from
    }

    pub(crate) async fn read_out(&self) -> String {
        self.ask("return document.querySelector('[data-readout]').textContent")
            .await
            .as_str()
            .unwrap()
            .to_owned()
    }

    /// The instant under a place of the canvas, as the script maps it.
    pub(crate) async fn instant_at(&self, x: f64) -> f64 {
        let (from, to) = self.view().await;
        let [start, end] = [from, to].map(|at| format!("return interstice.timeline.x({at})"));
        let (left, right) = (self.number(&start).await, self.number(&end).await);
        from + (to - from) * (x - left) / (right - left)
    }

    /// The canvas in the window: left, top, width, height.
    pub(crate) async fn place(&self) -> [f64; 4] {
        let script = "const b = document.querySelector('#timeline canvas').getBoundingClientRect(); \
            return [b.left, b.top, b.width, b.height]";
        let place = self.ask(script).await;
        [0, 1, 2, 3].map(|i| place[i].as_f64().unwrap())
    }

    pub(crate) async fn wheel(&self, x: f64, y: f64, steps: i32) {
        let script = format!(
            "const c = document.querySelector('#timeline canvas'); for (let i = 0; i < {}; i++) \
             c.dispatchEvent(new WheelEvent('wheel', {{ deltaY: {}, clientX: {x}, clientY: {y}, bubbles: true, cancelable: true }}))",
            steps.abs(),
            120 * steps.signum()
        );
        self.ask(&script).await;
        self.settled().await;
    }

    pub(crate) async fn keys(&self, keys: &str) {
        let canvas = self.client.find(Locator::Css("#timeline canvas")).await.unwrap();
        canvas.send_keys(keys).await.unwrap();
        self.settled().await;
    }

    pub(crate) async fn click(&self, selector: &str) {
        self.client
            .find(Locator::Css(selector))
            .await
            .unwrap()
            .click()
            .await
            .unwrap();
        self.settled().await;
    }

    pub(crate) async fn drag(&self, from: (f64, f64), to: (f64, f64)) {
        let mouse = MouseActions::new("mouse".to_owned())
            .then(move_to(from))
            .then(PointerAction::Down {
                button: MOUSE_BUTTON_LEFT,
            })
            .then(move_to(to))
            .then(PointerAction::Up {
                button: MOUSE_BUTTON_LEFT,
            });
        self.client.perform_actions(mouse).await.unwrap();
        self.settled().await;
    }

    pub(crate) async fn point_at(&self, place: (f64, f64)) {
        self.client
            .perform_actions(MouseActions::new("mouse".to_owned()).then(move_to(place)))
            .await
            .unwrap();
        tokio::time::sleep(Duration::from_millis(200)).await;
    }

    /// A finger down at the first place, moved to the last, and up.
    pub(crate) fn finger(name: &str, places: [(f64, f64); 2]) -> TouchActions {
        TouchActions::new(name.to_owned())
            .then(move_to(places[0]))
            .then(PointerAction::Down { button: 0 })
            .then(move_to(places[1]))
            .then(PointerAction::Up { button: 0 })
    }
}

pub(crate) fn move_to((x, y): (f64, f64)) -> PointerAction {
    PointerAction::MoveTo {
        duration: Some(Duration::from_millis(60)),
        x: x.round(),
        y: y.round(),
    }
}
