/** A file that an instrument writes again, behind JupyterLab's back. */

import type { DocumentRegistry } from '@jupyterlab/docregistry';
import { ServerConnection, type Contents } from '@jupyterlab/services';

import { listen, type Dispose } from '../view/listening.js';

/** Look, whenever somebody comes back to the window, whether a file has changed; then read it again, or say that it is gone. */
export function watched(
  context: DocumentRegistry.Context,
  contents: Contents.IManager,
  gone: () => void
): Dispose {
  const look = async () => {
    const known = context.contentsModel?.last_modified;
    try {
      const now = await contents.get(context.path, { content: false });
      if (known !== undefined && now.last_modified !== known && !context.isDisposed) {
        await context.revert();
      }
    } catch (error) {
      if (error instanceof ServerConnection.ResponseError && error.response.status === 404) {
        gone();
      } // or else the server is: what is shown stays, and a reload says what is wrong
    }
  };
  return listen(window, 'focus', () => void look());
}
