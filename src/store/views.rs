//! Saved views: a name that a person gave to the filters and the order of a list.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::codes::ViewCode;

/// `query` is the part of the address behind the question mark.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct View {
    pub code: ViewCode,
    pub name: String,
    pub query: String,
}

/// The views of one person, by name.
pub async fn of_person(db: &mut SqliteConnection, person: &str) -> Result<Vec<View>, StoreError> {
    Ok(sqlx::query_as!(
        View,
        r#"SELECT code AS "code: ViewCode", name, query FROM view WHERE person = ? ORDER BY name"#,
        person
    )
    .fetch_all(db)
    .await?)
}

/// Keeps a view; one of the same code is replaced.
pub async fn put(db: &mut SqliteConnection, person: &str, view: &View) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO view (code, person, name, query) VALUES (?, ?, ?, ?)
         ON CONFLICT (code) DO UPDATE SET query = excluded.query",
        view.code,
        person,
        view.name,
        view.query
    )
    .execute(db)
    .await?;
    Ok(())
}

/// Removes a view of this person; says whether there was one.
pub async fn remove(
    db: &mut SqliteConnection,
    person: &str,
    view: &ViewCode,
) -> Result<bool, StoreError> {
    let gone = sqlx::query!("DELETE FROM view WHERE code = ? AND person = ?", view, person)
        .execute(db)
        .await?;
    Ok(gone.rows_affected() > 0)
}

#[cfg(test)]
mod tests {
    use sqlx::SqlitePool;

    use super::*;

    #[sqlx::test(migrations = "../../migrations")]
    async fn a_view_belongs_to_its_person(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        sqlx::query!(
            "INSERT INTO person (name, role, password, made_at)
             VALUES ('lead', 'lead', '', 0), ('viewer', 'viewer', '', 0)"
        )
        .execute(&mut **db)
        .await
        .unwrap();
        let view = |code: &str, query: &str| View {
            code: code.into(),
            name: "Latches".to_owned(),
            query: query.to_owned(),
        };
        put(db, "lead", &view("V-1", "family=F-1")).await.unwrap();
        put(db, "viewer", &view("V-2", "class=1")).await.unwrap();
        put(db, "lead", &view("V-1", "family=F-2")).await.unwrap();

        assert_eq!(of_person(db, "lead").await.unwrap(), [view("V-1", "family=F-2")]);
        assert!(!remove(db, "viewer", &"V-1".into()).await.unwrap());
        assert!(remove(db, "lead", &"V-1".into()).await.unwrap());
        assert!(of_person(db, "lead").await.unwrap().is_empty());
    }
}
