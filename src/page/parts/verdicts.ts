/** How something can stand: in order, wrong, worth a look, not known, under way. */
export type VerdictKind = 'good' | 'wrong' | 'look' | 'unknown' | 'busy';
