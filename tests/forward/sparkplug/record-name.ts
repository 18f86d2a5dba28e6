/** Which record a group of metrics is of, as a host that keeps a table finds out. */

/** Stream and key, from the group that tells its revision. `number`: of a journal entry. */
export function nameRecord(
  device: string,
  group: string,
  at: number,
  number: unknown,
): { readonly stream: string; readonly key: string } {
  const parts = group.split('/');
  if (group === 'journal') return { stream: 'journal', key: String(number) };
  if (group === 'transient') return { stream: 'transients', key: `${device}|${at}` };
  const alarm = parts.at(-1)!;
  if (parts.at(-2) === 'alarm')
    return { stream: 'alarms', key: `${parts.length === 3 ? parts[0]! : device}.${alarm}` };
  const key = `${device}/${parts[0]}|${parts[1]}|${at}`;
  return { stream: parts[2] === 'manifest' ? 'manifests' : 'rollups', key };
}
