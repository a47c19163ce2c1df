//! Values of one field that stand side by side until a person picks.

use leptos::prelude::*;

use crate::state::{app, capital};
use crate::words::{t, tr, yes};

/// The conflicts of one field, or of the whole board where `path` is empty.
#[component]
pub fn Conflicts(
    /// The field, or empty for all.
    path: String,
) -> impl IntoView {
    let app = app();
    let found = Memo::new(move |_| {
        app.of_view(|view| {
            view.conflicts
                .iter()
                .filter(|conflict| path.is_empty() || conflict.path == path)
                .cloned()
                .collect::<Vec<_>>()
        })
        .unwrap_or_default()
    });
    move || {
        found
            .get()
            .into_iter()
            .map(|conflict| {
                let field = conflict.path.clone();
                let values = conflict
                    .values
                    .into_iter()
                    .map(|value| {
                        let (field, pick) = (field.clone(), value.pick.clone());
                        let shown = value.shown.clone();
                        let said = !value.by.is_empty();
                        let words = tr(
                            "ui-conflict-use",
                            &[
                                ("value", value.shown.to_string().into()),
                                ("said", yes(said)),
                                ("by", value.by.to_string().into()),
                            ],
                        );
                        let settle = move |_| {
                            let Some(board) = app.board() else { return };
                            let request = api::Settle { board, path: field.clone(), pick: pick.clone(), have: None };
                            app.change(
                                request,
                                tr("ui-conflict-settled", &[("value", shown.to_string().into())]),
                                |_| (),
                            );
                        };
                        view! {
                            <button type="button" data-pick=value.pick on:click=settle>
                                {words}
                            </button>
                        }
                    })
                    .collect_view();
                view! {
                    <div class="said conflict" data-conflict=conflict.path>
                        <p>
                            <strong>{t("ui-conflict-two")}</strong>
                            {tr("ui-conflict-both", &[("field", capital(&conflict.label).into())])}
                        </p>
                        <div class="row">{values}</div>
                    </div>
                }
            })
            .collect_view()
    }
}
