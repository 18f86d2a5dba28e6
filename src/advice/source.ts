/**
 * Where a rule comes from. Every rule, remedy and caution carries one of these, so that a reader can tell what was published
 * from what the trade merely does. Where only an abstract or an excerpt could be read, the text says so.
 */

/** Usual among those who look after motors; we know of no publication to name for it. */
export const COMMON_PRACTICE = 'common practice, no source';

/** Follows from how a drive, a shaft and a counter work; our own reasoning, published nowhere that we know of. */
export const DERIVED = 'our derivation, no source';

/** How machine size and the two common mechanisms go together. */
export const SIZE_SURVEY =
  'Binder and Muetze, survey of scaling effects of bearing currents, IEEE Transactions on Industry Applications 44(3), ' +
  '2008 (abstract read; the reference from memory)';

export const CIRCULATING_RATIO =
  'Muetze and Binder, IEEE Transactions on Industrial Electronics 54(2), 2007 (excerpt read)';

export const TAXONOMY = 'Tawfiq et al., Machines 2023, 11, 550';

export const FILM_REGIME = 'Li et al., Lubricants 2024, 12(3), 79';

export const BREAKDOWN_VOLTAGE = 'Lubricants 2024, 12(1), 1, table A1 and abstract';

export const DRIVERS =
  'Muetze, Tamminen and Ahola, IEEE Transactions on Industry Applications 47(4), 2011 (from memory)';

export const DAMAGE_PATH = 'Lubricants 2025, 13, 349 (headings read)';

export const EROSION_MODES = 'ISO 15243:2017, clause 5.4 (table of contents read)';

export const SECONDARY_STANDARD =
  'secondary texts that restate NEMA MG 1 and IEC TS 60034-25; the standards themselves were not read';
