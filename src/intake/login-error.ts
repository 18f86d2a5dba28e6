/** Why a client is not let in, as MQTT tells it. */

/** MQTT 3.1.1, 3.2.2.3 */
export const IDENTIFIER_REJECTED = 2;
export const SERVER_UNAVAILABLE = 3;
export const BAD_LOGIN = 4;

export class LoginError extends Error {
  constructor(
    message: string,
    readonly returnCode: number,
  ) {
    super(message);
  }
}
