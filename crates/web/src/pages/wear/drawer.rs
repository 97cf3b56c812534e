//! The drawer on the Wear page: what is left, when to order, what it cost, and writing lots down.

use axum::extract::State;
use axum::response::Redirect;
use axum::routing::post;
use axum::{Form, Router};
use interstice_desk::stock::{LotWords, StockAct};
use interstice_findings::wear::{Drawer, DrawerLot};
use interstice_glucose::Holds;
use interstice_render::words;
use maud::{Markup, html};
use serde::Deserialize;

use crate::Trouble;
use crate::app::App;
use crate::shell::{glue, table};

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/wear/stock", post(add))
        .route("/wear/stock/correct", post(correct))
        .route("/wear/stock/arrived", post(arrived))
        .route("/wear/stock/remove", post(remove))
        .route("/wear/stock/delivery", post(delivery))
        .route("/wear/stock/price", post(price))
        .route("/wear/stock/undo", post(undo))
}

/// `?stock=12`: the change of the drawer that was just made.
#[derive(Debug, Default, Deserialize)]
pub(super) struct Changed {
    stock: Option<String>,
}

impl Changed {
    fn change(&self) -> Option<i64> {
        self.stock.as_ref()?.trim().parse().ok()
    }
}

/// A lot as the form says it.
#[derive(Debug, Deserialize)]
struct NewLot {
    holds: String,
    name: String,
    number: String,
    count: String,
    use_by: String,
    price: String,
    price_of: String,
    currency: String,
    source: String,
    when: String,
    day: String,
}

async fn add(State(app): State<App>, Form(new): Form<NewLot>) -> Result<Redirect, Trouble> {
    let holds = Holds::named(&new.holds).ok_or_else(|| {
        Trouble::Request("a lot is of sensors, covers or preparations; choose one".to_owned())
    })?;
    let is_to_come = new.when == "expected";
    let words = LotWords {
        holds: Some(holds),
        name: new.name,
        number: new.number,
        count: whole(&new.count, "the number of pieces")?,
        free: new.price_of == "free",
        price: if new.price_of == "free" {
            String::new()
        } else {
            new.price
        },
        price_of_all: new.price_of == "all",
        currency: new.currency,
        source: new.source,
        arrived: if is_to_come {
            String::new()
        } else {
            new.day.clone()
        },
        expected: if is_to_come { new.day } else { String::new() },
        use_by: new.use_by,
        note: String::new(),
    };
    if is_to_come && words.expected.trim().is_empty() {
        return Err(Trouble::Request("say on which day the lot is to come".to_owned()));
    }
    act(app, StockAct::Add(Box::new(words))).await
}

#[derive(Debug, Deserialize)]
struct Count {
    lot: u32,
    by: String,
    reason: String,
}

async fn correct(State(app): State<App>, Form(count): Form<Count>) -> Result<Redirect, Trouble> {
    let by = count.by.trim().replace('\u{2212}', "-");
    let by = by.parse().map_err(|_| {
        Trouble::Request(format!(
            "'{by}' is not a number of pieces; write -1 where one is gone"
        ))
    })?;
    let (lot, reason) = (count.lot, count.reason);
    act(app, StockAct::Correct { lot, by, reason }).await
}

#[derive(Debug, Deserialize)]
struct Came {
    lot: u32,
    #[serde(default)]
    on: String,
}

async fn arrived(State(app): State<App>, Form(came): Form<Came>) -> Result<Redirect, Trouble> {
    let Came { lot, on } = came;
    act(app, StockAct::Arrived { lot, on }).await
}

#[derive(Debug, Deserialize)]
struct Which {
    lot: u32,
}

async fn remove(State(app): State<App>, Form(which): Form<Which>) -> Result<Redirect, Trouble> {
    act(app, StockAct::Remove { lot: which.lot }).await
}

#[derive(Debug, Deserialize)]
struct Takes {
    days: String,
}

async fn delivery(State(app): State<App>, Form(takes): Form<Takes>) -> Result<Redirect, Trouble> {
    let days = whole(&takes.days, "the days a delivery takes")?;
    act(app, StockAct::Delivery { days }).await
}

#[derive(Debug, Deserialize)]
struct Usual {
    price: String,
    currency: String,
}

async fn price(State(app): State<App>, Form(usual): Form<Usual>) -> Result<Redirect, Trouble> {
    let Usual { price, currency } = usual;
    let kind = String::new();
    act(
        app,
        StockAct::Price {
            kind,
            price,
            currency,
        },
    )
    .await
}

#[derive(Debug, Deserialize)]
struct Undo {
    change: i64,
}

async fn undo(State(app): State<App>, Form(undo): Form<Undo>) -> Result<Redirect, Trouble> {
    act(app, StockAct::Undo { change: undo.change }).await
}

fn whole(text: &str, what: &str) -> Result<u32, Trouble> {
    let text = text.trim();
    text.parse()
        .map_err(|_| Trouble::Request(format!("'{text}' is not {what}; write a whole number")))
}

/// Does it, and goes back to the drawer, where it can be taken back.
async fn act(app: App, act: StockAct) -> Result<Redirect, Trouble> {
    let change = app.ask(move |backend| backend.stock(&act)).await?;
    let query = change.map_or_else(String::new, |change| format!("?stock={change}"));
    Ok(Redirect::to(&format!("/wear{query}#drawer")))
}

/// The section of the Wear page.
pub(super) fn section(drawer: &Drawer, changed: &Changed) -> Markup {
    html! {
        section.drawer aria-labelledby="drawer" {
            h2 #drawer { "The drawer" }
            @if let Some(change) = changed.change() { (written(change)) }
            @if drawer.stock.is_empty() {
                p { "Nothing is written down of it yet. Put in what you have, lot by lot, and it tells what is left, what expires, when to order and what an hour worn costs." }
            } @else {
                @for said in words::supply_said(&drawer.supply) { p { (glue(&said)) } }
                (table(&words::stock_table(&drawer.stock), "stock"))
                @let said = words::stock_said(&drawer.stock);
                @if !said.is_empty() { ul { @for said in &said { li { (glue(said)) } } } }
                @let used_up = words::used_up_table(&drawer.stock);
                @if !used_up.rows.is_empty() { details { summary { "Used up" } (table(&used_up, "stock")) } }
                @for lot in drawer.stock.iter().filter(|lot| lot.expected.is_some()) { (arrived_form(lot)) }
            }
            (add_form(drawer))
            @if !drawer.stock.is_empty() {
                (correct_form(drawer))
                (delivery_form(drawer))
            }
            (price_form(drawer))
            (cost(drawer))
            p.more { a href="/methods/stock" { "How it is counted and simulated" } }
        }
    }
}

fn written(change: i64) -> Markup {
    html! {
        form.says method="post" action="/wear/stock/undo" role="status" {
            input type="hidden" name="change" value=(change);
            span { "Written down." }
            button.quiet type="submit" { "Take that back" }
        }
    }
}

fn arrived_form(lot: &DrawerLot) -> Markup {
    let name = lot.lot.clone().unwrap_or_else(|| words::lot_name(lot));
    html! {
        form.says method="post" action="/wear/stock/arrived" {
            input type="hidden" name="lot" value=(lot.id);
            button.quiet type="submit" { "Lot " (lot.id) ", " (name) ", came today" }
        }
    }
}

fn add_form(drawer: &Drawer) -> Markup {
    let currency = drawer.stock.iter().rev().find_map(|lot| lot.currency.as_deref());
    html! {
        details open[drawer.stock.is_empty()] {
            summary { "Put a lot in" }
            form.lot method="post" action="/wear/stock" {
                label { span { "It is of" } select name="holds" {
                    @for holds in Holds::ALL { option value=(holds.name()) { (holds.name()) } }
                } }
                label { span { "Pieces" } input name="count" inputmode="numeric" required size="4" autocomplete="off"; }
                label { span { "Lot number" } input name="number" autocomplete="off" spellcheck="false"; }
                label { span { "Last day to put one on" } input type="date" name="use_by"; }
                label { span { "Kind of sensor, or which cover or preparation" } input name="name" autocomplete="off" placeholder="the kind in use"; }
                label { span { "Price" } input name="price" inputmode="decimal" size="8" autocomplete="off"; }
                label { span { "It is" } select name="price_of" {
                    option value="all" { "for all together" }
                    option value="each" { "for each" }
                    option value="free" { "nothing: free" }
                } }
                label { span { "Currency" } input name="currency" size="5" value=[currency] placeholder="EUR" autocomplete="off"; }
                label { span { "Where from" } input name="source" list="sources" autocomplete="off"; }
                datalist #sources {
                    @for source in ["bought", "subsidised", "free starter", "replacement"] { option value=(source) {} }
                }
                label { span { "It" } select name="when" {
                    option value="arrived" { "came on" }
                    option value="expected" { "is to come on" }
                } }
                label { span { "Day" } input type="date" name="day"; }
                button type="submit" { "Put it in" }
            }
            p.help { "Where no day is said it came today. What you put on from that day on is taken off the count: by the lot number you write down beside a sensor, else from the first to expire." }
        }
    }
}

fn correct_form(drawer: &Drawer) -> Markup {
    let lots = || {
        html! {
            @for lot in &drawer.stock {
                option value=(lot.id) { (lot.id) ", " (lot.lot.clone().unwrap_or_else(|| words::lot_name(lot))) }
            }
        }
    };
    html! {
        details {
            summary { "Correct a count, or take a lot out" }
            form.lot method="post" action="/wear/stock/correct" {
                label { span { "Lot" } select name="lot" { (lots()) } }
                label { span { "More, or fewer with a minus" } input name="by" inputmode="text" value="-1" size="5" required autocomplete="off"; }
                label { span { "Why" } input name="reason" list="reasons" required autocomplete="off"; }
                datalist #reasons {
                    @for reason in ["lost", "dropped", "given away", "miscounted"] { option value=(reason) {} }
                }
                button type="submit" { "Correct it" }
            }
            form.lot method="post" action="/wear/stock/remove" {
                label { span { "Lot" } select name="lot" { (lots()) } }
                button.quiet type="submit" { "Take it out of the book" }
            }
        }
    }
}

fn delivery_form(drawer: &Drawer) -> Markup {
    let days = drawer.supply.delivery_days;
    html! {
        details open[days.is_none()] {
            summary { "How long a delivery takes" }
            form.lot method="post" action="/wear/stock/delivery" {
                label { span { "Days from the order to its arrival" } input name="days" inputmode="numeric" size="4" required value=[days] autocomplete="off"; }
                button type="submit" { "Save" }
            }
        }
    }
}

fn price_form(drawer: &Drawer) -> Markup {
    let currency = drawer.stock.iter().rev().find_map(|lot| lot.currency.as_deref());
    html! {
        details {
            summary { "What one sensor usually costs" }
            form.lot method="post" action="/wear/stock/price" {
                label { span { "Price of one of the kind in use" } input name="price" inputmode="decimal" size="8" required autocomplete="off"; }
                label { span { "Currency" } input name="currency" size="5" value=[currency] placeholder="EUR" autocomplete="off"; }
                button type="submit" { "Save" }
            }
            p.help { "It stands where no lot tells a price, and tells what a year costs." }
        }
    }
}

fn cost(drawer: &Drawer) -> Markup {
    let said = words::cost_said(&drawer.cost);
    let known = !drawer.stock.is_empty() || !drawer.cost.by_currency.is_empty();
    html! {
        @if known && !said.is_empty() {
            h3 #cost { "Losses and money" }
            @for said in &said { p { (glue(said)) } }
            @for cost in drawer.cost.by_currency.iter().filter(|cost| cost.currency.is_some()) {
                (table(&words::cost_table(cost), "cost"))
            }
        }
    }
}
