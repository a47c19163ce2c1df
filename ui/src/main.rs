//! The interface: draws state and sends intents; it holds no rule.

// A view as text, for the tests of components, is one type as deep as the page.
#![recursion_limit = "256"]

mod call;
mod components;
mod files;
mod parts;
mod route;
mod screens;
mod sheet;
mod state;
mod theme;
mod words;

use std::time::Duration;

use leptos::ev;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use parts::shell::{Header, Messages, Navigation};
use route::{Part, Screen};
use state::App;
use words::t;

fn main() {
    console_error_panic_hook::set_once();
    theme::show(&theme::current());
    wasm_bindgen_futures::spawn_local(async {
        if let Err(error) = words::load().await {
            return silent(&error.message);
        }
        let document = web_sys::window().and_then(|window| window.document());
        if let Some(waiting) = document.and_then(|document| document.get_element_by_id("waiting")) {
            waiting.remove();
        }
        mount_to_body(Frame);
    });
}

/// Shows the words of the page itself, with what the app answered where it did.
fn silent(why: &str) {
    let told = js_sys::Reflect::get(&js_sys::global(), &"waywrightSilent".into());
    if let Ok(tell) = told.and_then(JsCast::dyn_into::<js_sys::Function>) {
        let _ = tell.call1(&wasm_bindgen::JsValue::UNDEFINED, &why.into());
    }
}

/// Between two steps of the check of what is stored.
const IDLE: Duration = Duration::from_secs(20);

/// Reads on in the check of what is stored, and once it is through looks from time to time whether it
/// is due again.
fn check_on(app: App) {
    app.ask_json(api::CheckStore { again: false }, move |found| {
        let wait = if found["finished"].is_null() { IDLE } else { 90 * IDLE };
        set_timeout(move || check_on(app), wait);
    });
}

fn address() -> Screen {
    let hash = web_sys::window().and_then(|window| window.location().hash().ok()).unwrap_or_default();
    Screen::parse(&hash)
}

#[component]
fn Frame() -> impl IntoView {
    let app = App::new(address());
    provide_context(app);
    app.ask(api::About {}, move |about| {
        if let Some(recovered) = &about.recovered {
            app.warn("", &api::ApiError::failed(recovered.clone()));
            // It is shown at every start until it is dismissed.
            app.alert.update(|alert| {
                if let Some(alert) = alert {
                    alert.upto = about.recovered_upto;
                }
            });
        }
        app.about.set(Some(about));
    });

    set_timeout(move || check_on(app), IDLE);

    let follow = window_event_listener_untyped("hashchange", move |_| {
        let next = address();
        if app.screen.get_untracked() != next {
            app.screen.set(next);
            if let Some(window) = web_sys::window() {
                window.scroll_to_with_x_and_y(0.0, 0.0);
            }
        }
    });
    let keys = window_event_listener(ev::keydown, move |event| {
        let typing = event
            .target()
            .and_then(|target| target.dyn_into::<web_sys::Element>().ok())
            .is_some_and(|element| matches!(element.tag_name().as_str(), "INPUT" | "TEXTAREA" | "SELECT"));
        if typing || !(event.ctrl_key() || event.meta_key()) {
            return;
        }
        match event.key().as_str() {
            "z" => app.undo(),
            "y" | "Z" => app.redo(),
            _ => return,
        }
        event.prevent_default();
    });
    on_cleanup(move || {
        follow.remove();
        keys.remove();
    });

    let board = Memo::new(move |_| app.screen.with(Screen::board));
    Effect::new(move |_| {
        if let Some(board) = board.get() {
            app.open(board);
        }
    });
    // Good news goes by itself; bad news stays.
    Effect::new(move |_| {
        let Some(shown) = app.status.get() else { return };
        set_timeout(
            move || {
                if app.status.get_untracked().as_ref() == Some(&shown) {
                    app.status.set(None);
                }
            },
            Duration::from_secs(5),
        );
    });

    let screen = Memo::new(move |_| app.screen.get());
    let ready = Memo::new(move |_| {
        let board = app.screen.with(Screen::board);
        board.is_none() || app.view.with(|view| view.as_ref().and_then(|view| sheet::id_of(&view.board))) == board
    });
    let content = move || {
        let screen = screen.get();
        if !ready.get() {
            return waiting(app);
        }
        match screen {
            Screen::Boards => screens::boards::Boards().into_any(),
            Screen::Settings => screens::settings::Settings().into_any(),
            Screen::Board(_, part) => match part {
                Part::Drawing => screens::board::BoardScreen().into_any(),
                Part::Supply => screens::supply::SupplyScreen().into_any(),
                Part::Add(pole) => view! { <screens::board::AddCircuit pole /> }.into_any(),
                Part::Circuit(id) => view! { <screens::circuit::CircuitScreen id /> }.into_any(),
                Part::Findings => screens::findings::Findings().into_any(),
                Part::Plate(plate) => view! { <screens::plate::PlateScreen plate /> }.into_any(),
                Part::Papers => screens::papers::Papers().into_any(),
                Part::Photos => screens::photos::Photos().into_any(),
                Part::Notes => screens::notes::Notes().into_any(),
            },
        }
    };
    view! {
        <a class="skip" href="#main" on:click=skip>{t("ui-to-content")}</a>
        <Header />
        <div class="body">
            <Navigation />
            <main
                id="main"
                tabindex="-1"
                data-screen=move || screen.with(Screen::name)
                data-ready=move || ready.get().to_string()
            >
                {content}
            </main>
        </div>
        <Messages />
    }
}

/// Moves to the content without touching the address, which says which screen is shown.
fn skip(event: web_sys::MouseEvent) {
    event.prevent_default();
    let main = web_sys::window()
        .and_then(|window| window.document())
        .and_then(|document| document.get_element_by_id("main"))
        .and_then(|main| main.dyn_into::<web_sys::HtmlElement>().ok());
    if let Some(main) = main {
        let _ = main.focus();
    }
}

fn waiting(app: App) -> AnyView {
    view! {
        <div class="single">
            {move || match app.load_error.get() {
                Some(error) => {
                    view! {
                        <div class="said bad" role="alert">
                            <p>{error.message}</p>
                            <div class="row">
                                <button
                                    type="button"
                                    on:click=move |_| {
                                        if let Some(board) = app.board() {
                                            app.open(board);
                                        }
                                    }
                                >
                                    {t("ui-try-again")}
                                </button>
                                <a class="button" href="#/">{t("ui-all-boards")}</a>
                            </div>
                        </div>
                    }
                        .into_any()
                }
                None => view! { <p class="empty" role="status">{t("ui-opening-board")}</p> }.into_any(),
            }}
        </div>
    }
    .into_any()
}
