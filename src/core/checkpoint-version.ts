/** Version of the records that the core keeps between runs; a store with another one is migrated or refused by the shell. */
export const CHECKPOINT_VERSION = 1;
