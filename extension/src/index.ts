/** The plugins of the extension. */

import { spectrum } from './plugins/spectrum.js';

export default [spectrum];
