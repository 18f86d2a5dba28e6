/** The view "Now": what needs an answer, and under it the plant at a glance. */
export function NowScreen() {
  return <h1>What needs an answer</h1>;
}
