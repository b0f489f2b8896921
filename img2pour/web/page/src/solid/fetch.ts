/** The bytes of the job's own `board.glb`: made with the whole output, where it is not made yet. */

import { ApiError, type State } from "../api";
import type { Page } from "../page";

const FILE = "board.glb";
const AGAIN_MS = 700;
const MOST_WAIT_MS = 120_000;

/** Return the file of the state's revision. Throws when it cannot be made. */
export async function getBoard(page: Page, state: State): Promise<ArrayBuffer> {
  if (!(await isMade(page, state))) {
    await page.api.makeOutput(state.id);
    await made(page, state);
  }
  const answer = await fetch(page.api.url.file(state.id, FILE), { credentials: "same-origin" });
  if (!answer.ok) throw new ApiError(answer.status, "the job has no 3D file");
  return answer.arrayBuffer();
}

async function isMade(page: Page, { id, revision }: State): Promise<boolean> {
  try {
    const output = await page.api.output(id);
    return output.revision === revision;
  } catch (why) {
    if (why instanceof ApiError && [404, 409].includes(why.status)) return false;
    throw why;
  }
}

/** Wait until the output of this revision is there, or the job has moved on. */
async function made(page: Page, state: State): Promise<void> {
  const until = Date.now() + MOST_WAIT_MS;
  while (Date.now() < until) {
    const { open, state: now, trouble } = page.store.now;
    if (open !== state.id || now?.revision !== state.revision) {
      throw new Error("the job was changed in between; ask again");
    }
    if (trouble !== null) throw new Error(trouble);
    if (await isMade(page, state)) return;
    await new Promise((done) => setTimeout(done, AGAIN_MS));
  }
  throw new Error("it takes too long; try again");
}
