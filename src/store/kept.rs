//! The one way in which every record is found, saved and walked through.

/// Implements `Kept` for a record whose fields are columns of one table: the macro that reads
/// its rows, the statement that writes one, and the fields in the order of that statement.
/// `first` refuses what the table could not hold; `then` writes what hangs on the columns.
macro_rules! kept {
    ($record:ident, $rows:ident, $save:literal, $($field:ident),+
        $(; first $first:ident)? $(; then $then:ident)?) => {
        impl crate::Kept for $record {
            async fn find(
                db: &mut sqlx::SqliteConnection,
                code: &str,
            ) -> Result<Option<Self>, crate::StoreError> {
                Ok($rows!("WHERE code = ?", code).fetch_optional(db).await?)
            }

            async fn save(
                &self,
                db: &mut sqlx::SqliteConnection,
            ) -> Result<(), crate::StoreError> {
                $($first(self)?;)?
                sqlx::query!($save, $(self.$field),+).execute(&mut *db).await?;
                $($then(db, self).await?;)?
                Ok(())
            }

            async fn after(
                db: &mut sqlx::SqliteConnection,
                after: &str,
                most: i64,
            ) -> Result<Vec<Self>, crate::StoreError> {
                Ok($rows!("WHERE code > ? ORDER BY code LIMIT ?", after, most).fetch_all(db).await?)
            }
        }
    };
}
pub(crate) use kept;

/// The list of a shelf: the records whose words hold what was typed, by code, and how many they
/// are. `$words` is what is searched, in SQL.
macro_rules! shelf {
    ($record:ident, $rows:ident, $table:literal, $words:literal) => {
        /// Those whose code or words hold what was typed, by code.
        pub async fn matching(
            db: &mut sqlx::SqliteConnection,
            typed: &str,
            offset: i64,
            most: i64,
        ) -> Result<Vec<$record>, crate::StoreError> {
            Ok($rows!(
                "WHERE instr(lower("
                    + $words
                    + "), lower(?1)) > 0
                 ORDER BY code LIMIT ?2 OFFSET ?3",
                typed,
                most,
                offset
            )
            .fetch_all(db)
            .await?)
        }

        /// How many there are of them.
        pub async fn count_matching(
            db: &mut sqlx::SqliteConnection,
            typed: &str,
        ) -> Result<i64, crate::StoreError> {
            Ok(sqlx::query_scalar!(
                r#"SELECT COUNT(*) AS "count!: i64" FROM "#
                    + $table
                    + " WHERE instr(lower("
                    + $words
                    + "), lower(?)) > 0",
                typed
            )
            .fetch_one(db)
            .await?)
        }
    };
}
pub(crate) use shelf;

/// The codes as a JSON array, which `json_each` reads as a table: a list of any length in one
/// checked query.
pub(crate) fn json_array<'a>(codes: impl IntoIterator<Item = &'a str>) -> String {
    codes.into_iter().collect::<serde_json::Value>().to_string()
}
