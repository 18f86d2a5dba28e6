/** Rows of the store in memory in their order. */

/** First index in an ordered list that is not below what is sought. */
export function placeIn<T>(list: readonly T[], isBelow: (item: T) => boolean): number {
  let low = 0;
  let high = list.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (isBelow(list[middle]!)) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Rows of each motor in order of time. */
export class RowsByMotor<T extends { motor: string; at: number }> {
  private readonly lists = new Map<string, T[]>();

  put(row: T): void {
    const rows = this.of(row.motor);
    const place = placeIn(rows, (other) => other.at < row.at);
    rows.splice(place, rows[place]?.at === row.at ? 1 : 0, { ...row });
    this.lists.set(row.motor, rows);
  }

  of(motor: string): T[] {
    return this.lists.get(motor) ?? [];
  }
}
