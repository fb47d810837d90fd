//! How often somebody may try to sign in: a growing wait for one account from one address, and a
//! bucket for each address. Never for good, so that nobody locks a colleague out. The time is an
//! argument.

use std::collections::HashMap;
use std::net::IpAddr;

use domain::time::Moment;

/// Wrong passwords for one account from one address before a wait begins.
// Source: OWASP ASVS 5.0.0, 6.1.1 and 6.3.1 ask for a documented limit, 2025; the numbers are ours.
const FREE_FAILURES: u32 = 5;
/// The longest wait, in milliseconds.
const MAX_WAIT: i64 = 15 * 60_000;
/// Failures are forgotten after so long without another.
const FORGOTTEN_AFTER: i64 = 30 * 60_000;
/// Wrong passwords from one address, whatever the account: so many at once, then one every
/// `ONE_MORE_EVERY` milliseconds (20 a minute).
const ADDRESS_BURST: i64 = 20;
const ONE_MORE_EVERY: i64 = 3_000;
/// Entries kept; beyond, the oldest go, so that a flood of names does not fill the memory.
const MAX_ENTRIES: usize = 20_000;

/// Counts wrong passwords.
#[derive(Debug, Default)]
pub struct Limiter {
    accounts: HashMap<(String, String), Failures>,
    addresses: HashMap<String, Bucket>,
}

#[derive(Debug, Clone, Copy)]
struct Failures {
    count: u32,
    last: Moment,
}

/// What was spent of a bucket, as the moment at which it is full again.
#[derive(Debug, Clone, Copy)]
struct Bucket {
    full_at: Moment,
}

impl Limiter {
    /// How long this account must wait at this address, in whole seconds; `None` for not at all.
    pub fn wait(&self, account: &str, address: IpAddr, now: Moment) -> Option<i64> {
        let by_account = self.accounts.get(&key(account, address)).map_or(0, |failures| {
            // A clock that was set back must not make the wait longer.
            (failures.last.0 + failures.pause() - now.0).min(failures.pause())
        });
        let by_address = self.addresses.get(&network(address)).map_or(0, |bucket| {
            let spent = (bucket.full_at.0 - now.0).min(ADDRESS_BURST * ONE_MORE_EVERY);
            spent - (ADDRESS_BURST - 1) * ONE_MORE_EVERY
        });
        let longest = by_account.max(by_address);
        (longest > 0).then_some((longest + 999) / 1_000)
    }

    /// Counts a try as if its password were wrong, before it is looked at; the seconds to wait where
    /// it may not be made.
    pub fn begin(&mut self, account: &str, address: IpAddr, now: Moment) -> Option<i64> {
        let wait = self.wait(account, address, now);
        if wait.is_none() {
            self.failed(account, address, now);
        }
        wait
    }

    fn failed(&mut self, account: &str, address: IpAddr, now: Moment) {
        self.forget(now);
        let failures =
            self.accounts.entry(key(account, address)).or_insert(Failures { count: 0, last: now });
        if now.0 - failures.last.0 >= FORGOTTEN_AFTER {
            failures.count = 0;
        }
        failures.count = failures.count.saturating_add(1);
        failures.last = now;
        let bucket = self.addresses.entry(network(address)).or_insert(Bucket { full_at: now });
        let full_at = bucket.full_at.0.max(now.0) + ONE_MORE_EVERY;
        bucket.full_at = Moment(full_at.min(now.0 + ADDRESS_BURST * ONE_MORE_EVERY));
    }

    /// The password was right: forgets the failures of the account at that address, and gives the
    /// address its try back.
    pub fn succeeded(&mut self, account: &str, address: IpAddr) {
        self.accounts.remove(&key(account, address));
        self.give_back(address);
    }

    /// The try was never looked at: takes its count back.
    pub fn undone(&mut self, account: &str, address: IpAddr) {
        if let Some(failures) = self.accounts.get_mut(&key(account, address)) {
            failures.count = failures.count.saturating_sub(1);
        }
        self.give_back(address);
    }

    fn give_back(&mut self, address: IpAddr) {
        if let Some(bucket) = self.addresses.get_mut(&network(address)) {
            bucket.full_at = Moment(bucket.full_at.0 - ONE_MORE_EVERY);
        }
    }

    fn forget(&mut self, now: Moment) {
        if self.accounts.len() + self.addresses.len() < MAX_ENTRIES / 2 {
            return;
        }
        self.accounts.retain(|_, failures| now.0 - failures.last.0 < FORGOTTEN_AFTER);
        self.addresses.retain(|_, bucket| bucket.full_at > now);
        if self.accounts.len() >= MAX_ENTRIES {
            let mut times: Vec<Moment> = self.accounts.values().map(|entry| entry.last).collect();
            times.sort_unstable();
            let middle = times[times.len() / 2];
            self.accounts.retain(|_, failures| failures.last > middle);
        }
        if self.addresses.len() >= MAX_ENTRIES {
            let mut times: Vec<Moment> =
                self.addresses.values().map(|entry| entry.full_at).collect();
            times.sort_unstable();
            let middle = times[times.len() / 2];
            self.addresses.retain(|_, bucket| bucket.full_at > middle);
        }
    }
}

impl Failures {
    /// One second after the free failures, doubling with each further one.
    fn pause(self) -> i64 {
        match self.count.checked_sub(FREE_FAILURES) {
            None => 0,
            Some(doublings) => (1_000_i64 << doublings.min(20)).min(MAX_WAIT),
        }
    }
}

fn key(account: &str, address: IpAddr) -> (String, String) {
    (account.trim().to_lowercase().chars().take(64).collect(), network(address))
}

/// One household or office: an IPv6 host changes the lower half of its address at will.
fn network(address: IpAddr) -> String {
    match address {
        IpAddr::V4(four) => four.to_string(),
        IpAddr::V6(six) => match six.to_ipv4_mapped() {
            Some(four) => four.to_string(),
            None => format!("{:x?}", &six.segments()[..4]),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 1));
    const THERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 2));

    /// Tries a wrong password each time the wait is over; gives the waits.
    fn waits(limiter: &mut Limiter, tries: usize) -> Vec<i64> {
        let mut now = Moment(1_000_000_000);
        (0..tries)
            .map(|_| {
                limiter.failed("lead", HERE, now);
                let wait = limiter.wait("lead", HERE, now).unwrap_or(0);
                now = Moment(now.0 + wait * 1_000);
                assert_eq!(limiter.wait("lead", HERE, now), None, "the wait ends");
                wait
            })
            .collect()
    }

    #[test]
    fn the_wait_doubles_after_five_failures_and_stops_growing_at_a_quarter_of_an_hour() {
        let waits = waits(&mut Limiter::default(), 18);
        assert_eq!(waits, [0, 0, 0, 0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900, 900, 900]);
    }

    #[test]
    fn nobody_is_locked_out_from_another_address_or_under_another_name() {
        let mut limiter = Limiter::default();
        let now = Moment(0);
        for _ in 0..12 {
            limiter.failed("lead", HERE, now);
        }
        assert!(limiter.wait("Lead ", HERE, now).is_some(), "the case of a name does not matter");
        assert_eq!(limiter.wait("lead", THERE, now), None);
        assert_eq!(limiter.wait("engineer", HERE, now), None);
    }

    #[test]
    fn the_right_password_ends_the_wait_of_its_account() {
        let mut limiter = Limiter::default();
        for _ in 0..6 {
            limiter.failed("lead", HERE, Moment(0));
        }
        limiter.succeeded("lead", HERE);
        assert_eq!(limiter.wait("lead", HERE, Moment(0)), None);
    }

    #[test]
    fn half_an_hour_without_a_failure_forgets_the_ones_before() {
        let mut limiter = Limiter::default();
        for _ in 0..9 {
            limiter.failed("lead", HERE, Moment(0));
        }
        limiter.failed("lead", HERE, Moment(30 * 60_000));
        assert_eq!(limiter.wait("lead", HERE, Moment(30 * 60_000)), None);
    }

    #[test]
    fn an_address_has_twenty_failures_at_once_and_then_one_every_three_seconds() {
        let mut limiter = Limiter::default();
        for n in 0..20 {
            assert_eq!(limiter.wait("new", HERE, Moment(0)), None, "try {n}");
            limiter.failed(&format!("account {n}"), HERE, Moment(0));
        }
        assert_eq!(limiter.wait("new", HERE, Moment(0)), Some(3));
        assert_eq!(limiter.wait("new", HERE, Moment(3_000)), None);
        assert_eq!(limiter.wait("new", THERE, Moment(0)), None);
    }

    #[test]
    fn a_clock_set_back_makes_no_wait_longer() {
        let mut limiter = Limiter::default();
        for _ in 0..6 {
            limiter.failed("lead", HERE, Moment(86_400_000));
        }
        assert_eq!(
            limiter.wait("lead", HERE, Moment(0)),
            Some(3),
            "the bucket of the address at most"
        );
    }

    #[test]
    fn hosts_of_one_network_share_a_bucket_and_a_flood_of_names_does_not_grow_for_ever() {
        let one: IpAddr = "2001:db8:0:1::1".parse().unwrap();
        let other: IpAddr = "2001:db8:0:1:ffff::2".parse().unwrap();
        assert_eq!(network(one), network(other));
        let mut limiter = Limiter::default();
        for n in 0..60_000_i64 {
            limiter.failed(&format!("name {n}"), HERE, Moment(n));
        }
        assert!(limiter.accounts.len() <= MAX_ENTRIES);
    }
}
