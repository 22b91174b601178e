// What a phone runs of the app's own code.
export {resolveDetails, resolveEntries} from '../../../static/clinical/record.js';
export {START} from '../../../static/store/cursor.js';
export {detailsIn} from '../../../static/store/entries.js';
export {openStore} from '../../../static/store/index.js';
export {entryOrNull} from '../../../static/store/readable.js';
export {ASIDE, RETURNING} from '../../../static/store/returning.js';
export {DEVICE, SYNC} from '../../../static/store/schema.js';
export {holdKey} from '../../../static/store/seal.js';
export {createTab} from './tab.mjs';
