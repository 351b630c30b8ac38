//! A semaphore with a limit in all and one per client; permits are released on drop.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use crate::web::client::Client;

/// Why there is no share.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoShare {
    /// This client holds as much as one may.
    OfClient,
    /// All of it is taken.
    OfAll,
}

#[derive(Debug, Default)]
struct Taken {
    all: usize,
    by_client: HashMap<Client, usize>,
}

/// Shares of one thing.
#[derive(Debug)]
pub struct Shares {
    most: usize,
    most_of_client: usize,
    taken: Arc<Mutex<Taken>>,
}

/// What is held until it is dropped.
#[derive(Debug)]
pub struct Share {
    client: Option<Client>,
    size: usize,
    taken: Arc<Mutex<Taken>>,
}

impl Shares {
    /// So much in all, so much for one client.
    pub fn new(most: usize, most_of_client: usize) -> Self {
        Self { most, most_of_client, taken: Arc::default() }
    }

    /// Takes a share of a size. A client that is not known (a test without a connection) is bounded by what there is in all.
    pub fn take(&self, client: Option<Client>, size: usize) -> Result<Share, NoShare> {
        let mut taken = self.taken.lock().unwrap_or_else(PoisonError::into_inner);
        let own = client.and_then(|client| taken.by_client.get(&client).copied()).unwrap_or(0);
        if client.is_some() && own + size > self.most_of_client {
            return Err(NoShare::OfClient);
        }
        if taken.all + size > self.most {
            return Err(NoShare::OfAll);
        }
        taken.all += size;
        if let Some(client) = client {
            taken.by_client.insert(client, own + size);
        }
        Ok(Share { client, size, taken: Arc::clone(&self.taken) })
    }

    /// How much is taken of what there is in all.
    pub fn taken(&self) -> usize {
        self.taken.lock().unwrap_or_else(PoisonError::into_inner).all
    }
}

impl Drop for Share {
    fn drop(&mut self) {
        let mut taken = self.taken.lock().unwrap_or_else(PoisonError::into_inner);
        taken.all -= self.size;
        if let Some(client) = self.client {
            match taken.by_client.get_mut(&client) {
                Some(own) if *own > self.size => *own -= self.size,
                _ => drop(taken.by_client.remove(&client)),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_client_holds_its_share_and_others_the_rest_and_all_comes_back() {
        let shares = Shares::new(5, 3);
        let client = |n: u8| Some(Client::of([192, 0, 2, n].into()));
        let held: Vec<Share> = (0..3).map(|_| shares.take(client(1), 1).unwrap()).collect();
        assert_eq!(shares.take(client(1), 1).unwrap_err(), NoShare::OfClient);
        let other = shares.take(client(2), 2).unwrap();
        assert_eq!(shares.take(client(3), 1).unwrap_err(), NoShare::OfAll);
        drop((held, other));
        assert_eq!(shares.taken(), 0);
        assert!(shares.taken.lock().unwrap().by_client.is_empty());
        assert!(shares.take(client(1), 3).is_ok());
    }
}
