//! JSON for programs, under `/api/v1`, and its description.

use axum::Json;
use utoipa::OpenApi;

use super::listed::ListedRoutes;
use crate::jobs::{
    cold_night, compare, covers, cultivars, measured_shelters, nursery, places, pots, propagation, proposals, reports, shelter, shortlist,
    spots, spring, station_record, surveys, trials,
};
use crate::web::errors::Problem;

/// What the API is, for machines. Addresses are listed here once and routed in [`routes`]; a test holds the two together.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "winterfig",
        description = "Local cold-hardiness matching of fig cultivars. Temperatures °C, differences K, probabilities 0 to 1, times RFC 3339 UTC.",
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0")
    ),
    paths(
        shortlist::api::show,
        compare::api::show,
        places::api::find,
        spring::api::show,
        spring::api_dates::show,
        covers::api::show,
        covers::api_heat::show,
        spots::api::show,
        pots::api::store,
        pots::api::frozen,
        propagation::api::sticks,
        propagation::api::batches,
        trials::api::show,
        cultivars::api::list,
        cultivars::api::show,
        proposals::api::show,
        station_record::api::read,
        cold_night::api::plan,
        shelter::api::assess,
        shelter::api::materials,
        shelter::api_vents::show,
        measured_shelters::api::list,
        nursery::api::list,
        nursery::api::add,
        nursery::api::sell,
        surveys::api::answers,
        reports::api::list,
        reports::api::send
    ),
    components(schemas(Problem<'static>)),
    modifiers(&Tokens, &Refusals)
)]
struct Description;

/// The way in for programs: a member's token.
struct Tokens;

impl utoipa::Modify for Tokens {
    fn modify(&self, openapi: &mut utoipa::openapi::OpenApi) {
        use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
        let scheme = SecurityScheme::Http(HttpBuilder::new().scheme(HttpAuthScheme::Bearer).build());
        openapi.components.get_or_insert_default().add_security_scheme("token", scheme);
    }
}

/// What every address may answer instead of what was asked for: a problem document, whatever its handler says of the case.
struct Refusals;

impl utoipa::Modify for Refusals {
    fn modify(&self, openapi: &mut utoipa::openapi::OpenApi) {
        use utoipa::openapi::{ContentBuilder, Ref, RefOr, ResponseBuilder};
        let problem = || RefOr::T(ContentBuilder::new().schema(Some(Ref::from_schema_name("Problem"))).build());
        for item in openapi.paths.paths.values_mut() {
            for operation in [&mut item.get, &mut item.post].into_iter().flatten() {
                let mut everywhere = vec![("400", "part of the request is not text in UTF-8, or not in a form that is read")];
                if operation.request_body.is_some() {
                    everywhere.push(("413", "larger than this address accepts"));
                }
                for (status, why) in everywhere {
                    let response = || RefOr::T(ResponseBuilder::new().description(why).build());
                    operation.responses.responses.entry(status.to_owned()).or_insert_with(response);
                }
                for (_, response) in operation.responses.responses.iter_mut().filter(|(status, _)| status.as_str() >= "400") {
                    if let RefOr::T(response) = response {
                        response.content.entry("application/problem+json".to_owned()).or_insert_with(problem);
                    }
                }
            }
        }
    }
}

/// The description of the API (OpenAPI 3.1).
pub fn description() -> utoipa::openapi::OpenApi {
    Description::openapi()
}

/// `GET /openapi.json`.
pub async fn describe() -> Json<utoipa::openapi::OpenApi> {
    Json(description())
}

/// Addresses of the API that take files.
pub(crate) fn file_routes() -> ListedRoutes {
    ListedRoutes::default().post("/climate", station_record::api::read)
}

/// Every other address of the API.
pub(crate) fn routes() -> ListedRoutes {
    ListedRoutes::default()
        .get("/shortlist", shortlist::api::show)
        .get("/compare", compare::api::show)
        .get("/places", places::api::find)
        .get("/spring", spring::api::show)
        .get("/safe-dates", spring::api_dates::show)
        .get("/covers", covers::api::show)
        .get("/small-heat", covers::api_heat::show)
        .get("/spots", spots::api::show)
        .get("/store", pots::api::store)
        .get("/frozen-pot", pots::api::frozen)
        .get("/trials", trials::api::show)
        .get("/sticks", propagation::api::sticks)
        .get("/batches", propagation::api::batches)
        .get("/nursery/stock", nursery::api::list)
        .post("/nursery/stock", nursery::api::add)
        .post("/nursery/sales", nursery::api::sell)
        .get("/surveys/{code}/answers", surveys::api::answers)
        .get("/reports", reports::api::list)
        .post("/reports", reports::api::send)
        .get("/cultivars", cultivars::api::list)
        .post("/cold-night", cold_night::api::plan)
        .post("/shelter", shelter::api::assess)
        .get("/shelter/materials", shelter::api::materials)
        .get("/vents", shelter::api_vents::show)
        .get("/shelters", measured_shelters::api::list)
        .get("/cultivars/{slug}", cultivars::api::show)
        .get("/cultivars/{slug}/history", proposals::api::show)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::description;

    #[test]
    fn every_operation_has_an_identifier_of_its_own_and_spring_counts_its_own_reports() {
        let described = serde_json::to_value(description()).unwrap();
        let operations: Vec<&serde_json::Value> =
            described["paths"].as_object().unwrap().values().flat_map(|item| item.as_object().unwrap().values()).collect();
        let names: BTreeSet<&str> = operations.iter().filter_map(|operation| operation["operationId"].as_str()).collect();
        assert_eq!(names.len(), operations.len(), "{names:?}");
        let reports = &described["components"]["schemas"]["SpringJson"]["properties"]["reports"]["$ref"];
        assert_eq!(reports, "#/components/schemas/SpringReportsJson");
    }
}
