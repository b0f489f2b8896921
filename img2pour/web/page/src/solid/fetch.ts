/** The bytes of the job's own `board.glb`: made with the whole output, where it is not made yet. */

import { ApiError, type State } from "../api";
import type { Page } from "../page";

const FILE = "board.glb";

/** Return the file of the state's revision. Throws when it cannot be made. */
export async function getBoard(page: Page, state: State): Promise<ArrayBuffer> {
  if (!(await isMade(page, state))) {
    // What was wrong before is not what may be wrong now.
    page.store.change({ trouble: null });
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

/** Wait until the output of this revision is told to be there, or the job has moved on. */
function made(page: Page, state: State): Promise<void> {
  return new Promise((done, failed) => {
    const end = (settle: () => void): void => {
      // The watcher is told at once, before it can be let go.
      queueMicrotask(() => letGo());
      settle();
    };
    const letGo = page.store.watch(["outputRevision", "state", "trouble"], (known) => {
      const { open, state: now, trouble, outputRevision } = known;
      if (open !== state.id || now?.revision !== state.revision) {
        end(() => failed(new Error("the job was changed in between; ask again")));
      } else if (outputRevision === state.revision) end(done);
      else if (trouble !== null) end(() => failed(new Error(trouble)));
    });
  });
}
