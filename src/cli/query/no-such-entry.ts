/** What was asked about is not there: a mistake of whoever asks. */
export class NoSuchEntry extends Error {
  readonly code = 'no-such-entry';
  constructor(
    message: string,
    readonly hint: string,
  ) {
    super(message);
  }
}
