//! Members, reports and the data package through the web door.

mod access;
mod accounts;
mod broken;
mod catalogue;
mod cold_spell;
mod description;
mod desk;
mod garden;
mod going_on;
mod hostile;
mod kept_records;
mod letters;
mod medium;
mod neighbours;
mod nursery;
mod office;
mod pages;
mod release;
mod rolling;
mod seasons;
mod setups;
mod shelters;
mod submitters;
mod tables;
mod terms;
mod trust;
