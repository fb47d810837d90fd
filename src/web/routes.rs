//! The route table as data: each address with what answers it. A router is made of it, and whoever
//! goes through every address reads it.

use axum::Router;
use axum::routing::MethodRouter;

use crate::workbook;
use app::App;

/// Addresses, their variable parts in braces, each with what answers it.
pub(crate) struct Routes(Vec<(String, MethodRouter<App>)>);

impl Routes {
    pub fn of(table: Vec<(&str, MethodRouter<App>)>) -> Self {
        Self(table.into_iter().map(|(path, methods)| (path.to_owned(), methods)).collect())
    }

    #[must_use]
    pub fn merge(mut self, other: Self) -> Self {
        self.0.extend(other.0);
        self
    }

    /// Each list that can be had as CSV, as a workbook too.
    #[must_use]
    pub fn with_workbooks(mut self) -> Self {
        let book = |(path, methods): &(String, MethodRouter<App>)| {
            let list = path.strip_prefix('/')?.strip_suffix(".csv")?;
            Some((format!("/{list}.xlsx"), workbook::of(list, methods.clone())))
        };
        let books: Vec<_> = self.0.iter().filter_map(book).collect();
        self.0.extend(books);
        self
    }

    pub fn router(self) -> Router<App> {
        let routes = self.0.into_iter();
        routes.fold(Router::new(), |router, (path, methods)| router.route(&path, methods))
    }

    pub fn addresses(self) -> impl Iterator<Item = String> {
        self.0.into_iter().map(|(path, _)| path)
    }
}
