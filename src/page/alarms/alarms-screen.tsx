/** The view "Alarms". */
export function AlarmsScreen() {
  return <h1>Alarms</h1>;
}
