/**
 * Names of condition bins. A name says of itself what it stands for, so that what is stored under it outlives a change of
 * edges: `speed 600..1200, load ..50` holds 600 rpm and more, less than 1200 rpm, and less than 50 % load.
 * Source: our choice.
 */

/** The one bin of a duty group without axes. */
export const ALL_BIN = 'all';
/** An increment over which the bin changed: it is indivisible, so nobody can say where its pulses belong. */
export const MIXED_BIN = 'mixed';
/** What ran before the edges of the group were learnt. */
export const LEARNING_BIN = 'learning';
