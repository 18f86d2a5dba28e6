/** A table of the broker library that nobody needs here. */
import { writeToStream } from 'mqtt-packet';

/**
 * Numbers are turned into bytes when they are wanted: the library would make all 65,536 of them at the first packet and keep
 * 9 MB for that. To be called before a client connects. The acknowledgements of readings are not written by the library.
 */
export function dropNumberTable(): void {
  writeToStream.cacheNumbers = false;
}
