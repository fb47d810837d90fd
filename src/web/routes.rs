//! The route table as data: each address with what answers it. A router is made of it, and whoever
//! goes through every address reads it.

use axum::Router;
use axum::routing::MethodRouter;

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

    pub fn router(self) -> Router<App> {
        let routes = self.0.into_iter();
        routes.fold(Router::new(), |router, (path, methods)| router.route(&path, methods))
    }

    pub fn addresses(self) -> impl Iterator<Item = String> {
        self.0.into_iter().map(|(path, _)| path)
    }
}
