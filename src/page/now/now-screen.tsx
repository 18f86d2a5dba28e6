/** The view "Now": what needs an answer, and under it the plant at a glance. */
import { AnswerList } from './answer-list.js';
import { PlantGlance } from './plant-glance.js';
import './now.css';

export function NowScreen() {
  return (
    <>
      <AnswerList />
      <PlantGlance />
    </>
  );
}
