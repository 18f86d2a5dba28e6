/** The wall view: the same figures, readable from afar, nothing that can be pressed. */
export function KioskScreen() {
  return <h1>Wall view</h1>;
}
