//! Papers: cautions first, then the pages, then the file.

use api::PaperRow;
use leptos::prelude::*;
use wasm_bindgen::JsValue;

use crate::call::in_window;
use crate::files;
use crate::parts::checks::Cautions;
use crate::state::app;
use crate::words::{t, tr, yes};

/// The papers of the board.
#[component]
pub fn Papers() -> impl IntoView {
    let app = app();
    let papers: RwSignal<Option<Vec<PaperRow>>> = RwSignal::new(None);
    let chosen: RwSignal<Option<String>> = RwSignal::new(None);
    if let Some(board) = app.board() {
        app.ask(api::ListPapers { board }, move |list| drop(papers.try_set(Some(list))));
    }
    let list = move || {
        papers
            .get()
            .unwrap_or_default()
            .into_iter()
            .map(|paper| {
                let key = paper.key.clone();
                let this = paper.key.clone();
                view! {
                    <li>
                        <button
                            type="button"
                            class="line"
                            data-paper=paper.key
                            aria-pressed=move || (chosen.get().as_ref() == Some(&this)).to_string()
                            on:click=move |_| chosen.set(Some(key.clone()))
                        >
                            <strong>{paper.name}</strong>
                            <span class="soft">{paper.formats.join(", ").to_uppercase()}</span>
                        </button>
                    </li>
                }
            })
            .collect_view()
    };
    let paper = move || {
        let key = chosen.get()?;
        papers.with(|papers| papers.as_ref()?.iter().find(|paper| paper.key == key).cloned()).map(one_paper)
    };
    view! {
        <div class="columns narrow-left">
            <section aria-label=t("ui-papers")>
                <h2>{t("ui-papers")}</h2>
                <ul class="plain-list">{list}</ul>
                <Cautions of=survey::Outlet::Papers />
            </section>
            <section aria-label=t("ui-paper")>
                {paper}
                {move || {
                    chosen.with(Option::is_none).then(|| view! { <p class="empty">{t("ui-papers-pick")}</p> })
                }}
            </section>
        </div>
    }
    .into_any()
}

fn one_paper(paper: PaperRow) -> AnyView {
    let app = app();
    let pages: RwSignal<Option<Vec<String>>> = RwSignal::new(None);
    let failed: RwSignal<Option<String>> = RwSignal::new(None);
    let saved: RwSignal<Option<String>> = RwSignal::new(None);
    let version = Memo::new(move |_| app.of_view(|view| view.version.clone()));
    let key = paper.key.clone();
    // What comes for a spreadsheet alone has no pages.
    let paged = paper.formats.iter().any(|format| format == "pdf");
    // The pages follow the board: an undo changes the paper in sight.
    Effect::new(move |_| {
        let (Some(board), Some(asked), true) = (app.board(), version.get(), paged) else { return };
        let request = api::PreviewPaper { board, paper: key.clone() };
        leptos::task::spawn_local(async move {
            let reply = crate::call::call(request).await;
            if version.try_get_untracked().flatten() != Some(asked) {
                return;
            }
            match reply {
                Ok(list) => {
                    let _ = pages.try_set(Some(list));
                    let _ = failed.try_set(None);
                }
                Err(error) => drop(failed.try_set(Some(error.message))),
            }
        });
    });
    let cautions = paper.cautions.iter().map(|caution| view! { <p>{caution.clone()}</p> }).collect_view();
    let buttons = paper
        .formats
        .iter()
        .map(|format| {
            let (format, key) = (format.clone(), paper.key.clone());
            let words = tr("ui-papers-save", &[("format", format.to_uppercase().into())]);
            let tag = format.clone();
            let save = move |_| {
                let Some(board) = app.board() else { return };
                let request = api::WritePaper { board, paper: key.clone(), format: format.clone(), save: true };
                app.ask(request, move |file| {
                    let place = file.saved.clone().unwrap_or_else(|| file.name.clone());
                    if !in_window() {
                        files::download(&file.name, &file.data);
                    }
                    let lacks = file.notes.join("; ");
                    app.say(tr(
                        "ui-papers-saved",
                        &[("file", file.name.into()), ("lacking", yes(!lacks.is_empty())), ("lacks", lacks.into())],
                    ));
                    let _ = saved.try_set(Some(place));
                });
            };
            view! { <button type="button" class="main" data-save=tag on:click=save>{words}</button> }
        })
        .collect_view();
    let name = paper.name.clone();
    let sheets = move || {
        let Some(list) = pages.get() else {
            return view! { <p class="empty" role="status">{t("ui-papers-setting")}</p> }.into_any();
        };
        let count = list.len();
        list.into_iter()
            .enumerate()
            .map(|(index, page)| {
                let url = files::object_url(&JsValue::from_str(&page), "image/svg+xml").unwrap_or_default();
                let held = url.clone();
                on_cleanup(move || files::release(&held));
                view! { <img class="page" src=url alt=tr(
                    "ui-papers-page",
                    &[("paper", name.as_str().into()), ("page", (index + 1).into()), ("count", count.into())],
                ) /> }
            })
            .collect_view()
            .into_any()
    };
    view! {
        <div data-paper-shown=paper.key.clone()>
            <h2>{paper.name.clone()}</h2>
            {(!paper.cautions.is_empty())
                .then(|| view! { <aside class="cautions" aria-label=t("ui-papers-before")>{cautions}</aside> })}
            <div class="row">{buttons}</div>
            {move || {
                saved
                    .get()
                    .map(|path| {
                        view! {
                            <p class="said good" role="status">
                                {t("ui-papers-saved-as")}
                                <span class="path" data-saved="">{path}</span>
                            </p>
                        }
                    })
            }}
            {move || failed.get().map(|why| view! { <p class="said bad" role="alert">{why}</p> })}
            {paged.then(|| view! { <div class="pages">{sheets}</div> })}
        </div>
    }
    .into_any()
}
