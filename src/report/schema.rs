//! JSON Schemas of what the program writes, made from its types and kept under `schema/`.

/// Schema of `report.json`.
pub const REPORT: &str = include_str!("../../schema/report.json");
/// Schema of what `plan --json` prints.
pub const PLAN: &str = include_str!("../../schema/plan.json");

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use schemars::generate::SchemaSettings;
    use schemars::{JsonSchema, Schema};
    use serde_json::{Value, json};

    use super::*;
    use crate::report::model::Report;
    use crate::report::planning::Planning;

    /// The schema of what a type is written as, with the name that stands in its key `schema`.
    fn made<T: JsonSchema>(name: &str, title: &str) -> String {
        let generator = SchemaSettings::draft2020_12()
            .for_serialize()
            .into_generator();
        let schema: Schema = generator.into_root_schema_for::<T>();
        let mut schema: Value = schema.into();
        schema["title"] = json!(title);
        schema["properties"]["schema"] = json!({ "const": name });
        format!("{}\n", serde_json::to_string_pretty(&schema).unwrap())
    }

    /// Compares with what is committed; `UPDATE_EXPECT=1` writes it anew.
    fn is_current(file: &str, committed: &str, made: &str) {
        if std::env::var_os("UPDATE_EXPECT").is_some() {
            let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("schema");
            crate::whole_file::put(&folder.join(file), made.as_bytes()).unwrap();
            return;
        }
        assert!(
            committed == made,
            "schema/{file} is not current; run the tests with UPDATE_EXPECT=1, read the difference, commit it"
        );
    }

    #[test]
    fn the_schemas_are_current() {
        let report = made::<Report>(crate::report::model::SCHEMA, "ampledger report");
        is_current("report.json", REPORT, &report);
        let plan = made::<Planning>(crate::report::planning::SCHEMA, "ampledger plan");
        is_current("plan.json", PLAN, &plan);
        let design = crate::design::schema::schema();
        let design = format!("{}\n", serde_json::to_string_pretty(&design).unwrap());
        is_current(
            "design.json",
            include_str!("../../schema/design.json"),
            &design,
        );
    }
}
