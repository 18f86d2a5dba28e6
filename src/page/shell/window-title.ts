/** The title of the window: what a tab in the background says of the plant. */

export interface TitleFacts {
  readonly view: string;
  /** empty: not known yet */
  readonly site: string;
  /** alarms that wait for an answer */
  readonly waiting: number;
  /** `lost`: what is known is of earlier, and no number is of now. `login`: nobody is in */
  readonly state: 'there' | 'lost' | 'login';
}

export function titleOf({ view, site, waiting, state }: TitleFacts): string {
  const first = {
    there: waiting === 0 ? '' : `${waiting} to answer`,
    lost: 'No connection',
    login: 'Log in',
  }[state];
  return [first, view, site, 'Tallypost'].filter((part) => part !== '').join(' · ');
}
