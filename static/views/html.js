/** The one door to Preact's templates. */
export {html} from 'htm/preact';
export {render} from 'preact';
