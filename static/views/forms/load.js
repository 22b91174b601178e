/** The form pages the server made from the clinical data; offline they come from the service worker's cache. */

/**
 * The form of a measure, ready to be put into a screen.
 * @param {string} measureId
 * @returns {Promise<HTMLFormElement>}
 * @throws {Error} with a sentence for the therapist when the page is not on this phone
 */
export async function loadForm(measureId) {
  const page = await loadDocument(`/forms/${measureId}`).catch(() => null);
  const form = page?.querySelector('form.measure');
  if (!form) {
    throw new Error('This form is not on this phone yet. Go where there is signal, open the app once, and it is kept from then on.');
  }
  return document.importNode(form, true);
}

/** A document request parses without running scripts and needs no exception in the content policy. */
function loadDocument(path) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open('GET', path);
    request.responseType = 'document';
    request.onload = () => (request.status === 200 ? resolve(request.response) : reject(new Error(String(request.status))));
    request.onerror = () => reject(new Error('no answer'));
    request.send();
  });
}
