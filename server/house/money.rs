//! How amounts of money are typed and written. One reader and one writer for every page and paper; totals and tax are reckoned in
//! `reckoning::money`.

/// The largest price that is taken, in minor units: a million of a currency with two decimals. More is a slip of the finger.
pub const MOST_MINOR: i64 = 100_000_000;

/// The currencies of ISO 4217 (list one, as amended to 2025) with two decimals.
const TWO: &str = "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF CHF CNY COP CRC CUP \
    CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT \
    LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON \
    RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD UYU UZS VED VES WST XCD \
    YER ZAR ZMW ZWG";
/// Those without decimals.
const NONE: &str = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF";
/// Those with three.
const THREE: &str = "BHD IQD JOD KWD LYD OMR TND";

/// A currency: its code and how many decimals it has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Currency {
    /// Its code of three letters (ISO 4217).
    pub code: String,
    /// How many decimals its minor unit stands for.
    pub decimals: u32,
}

impl Currency {
    /// The currency of a code; nothing when ISO 4217 does not know it.
    #[must_use]
    pub fn of(code: &str) -> Option<Self> {
        let code = code.trim().to_uppercase();
        let decimals = [(TWO, 2), (NONE, 0), (THREE, 3)];
        let found = decimals.into_iter().find(|(codes, _)| codes.split_whitespace().any(|known| known == code))?;
        Some(Self { code, decimals: found.1 })
    }

    /// An amount as fields hold it: `12.50`.
    #[must_use]
    pub fn figure(&self, minor: &i64) -> String {
        let (sign, size) = (if *minor < 0 { "−" } else { "" }, minor.unsigned_abs());
        let one = 10_u64.pow(self.decimals);
        match self.decimals {
            0 => format!("{sign}{size}"),
            places => format!("{sign}{}.{:0width$}", size / one, size % one, width = places as usize),
        }
    }

    /// An amount as pages and papers write it: `12.50 EUR`.
    #[must_use]
    pub fn amount(&self, minor: &i64) -> String {
        format!("{} {}", self.figure(minor), self.code)
    }

    /// A typed price in minor units. A comma may stand for the point, spaces may group figures, the currency's code may stand by.
    ///
    /// # Errors
    /// What to change, in words.
    pub fn read(&self, typed: &str) -> Result<i64, String> {
        let bare: String = typed.chars().filter(|letter| !letter.is_whitespace()).collect();
        let upper = bare.to_uppercase();
        let bare = upper.strip_prefix(self.code.as_str()).or_else(|| upper.strip_suffix(self.code.as_str())).unwrap_or(&upper);
        if bare.starts_with(['-', '−']) {
            return Err("A price can't be negative. Enter 0 for what is given away.".to_owned());
        }
        let (whole, rest) = bare.split_once(['.', ',']).unwrap_or((bare, ""));
        let figures = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
        if whole.is_empty() || !figures(whole) || !figures(rest) || bare.ends_with(['.', ',']) {
            return Err(format!("Enter a price in figures, such as {}.", self.example()));
        }
        let places = self.decimals as usize;
        if rest.len() > places {
            return Err(match places {
                0 => format!("{} has no decimals. Enter a whole number, such as {}.", self.code, self.example()),
                _ => format!("{} has {places} decimals at most. Enter a price such as {}.", self.code, self.example()),
            });
        }
        let minor = format!("{whole}{rest:0<places$}").parse::<i64>().ok().filter(|minor| *minor <= MOST_MINOR);
        minor.ok_or_else(|| format!("A price over {} is not taken. Check the figures.", self.amount(&MOST_MINOR)))
    }

    fn example(&self) -> String {
        self.figure(&(125 * 10_i64.pow(self.decimals) / 10))
    }
}
