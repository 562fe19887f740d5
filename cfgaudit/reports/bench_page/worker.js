// The page's second thread: unpacks Python, starts it, and answers one question at a time.
{
  const FOLDER = "/bench";
  const unpacked = (text, type) =>
    new Response(new Blob([bytes(text)]).stream().pipeThrough(new DecompressionStream("gzip")), {
      headers: { "Content-Type": type },
    });
  const stage = (number, says) => postMessage({ stage: number, says });

  // The entries of a tar file of the old kind, whose header has a name in two parts and a size.
  function* entries(data) {
    const letters = new TextDecoder();
    const text = (at, size) => letters.decode(data.subarray(at, at + size)).replace(/\0.*$/s, "");
    for (let at = 0; at + 512 <= data.length && data[at]; ) {
      const size = parseInt(text(at + 124, 12), 8) || 0;
      const above = text(at + 345, 155);
      const name = (above ? `${above}/` : "") + text(at, 100);
      if (name) yield [name, data.subarray(at + 512, at + 512 + size)];
      at += 512 + 512 * Math.ceil(size / 512);
    }
  }

  function put(files, folder, data) {
    const made = new Set();
    for (const [name, content] of entries(data)) {
      const path = `${folder}/${name}`;
      const above = path.slice(0, path.lastIndexOf("/"));
      if (!made.has(above)) files.mkdirTree(above);
      made.add(above);
      files.writeFile(path, content);
    }
  }

  const binary = async (text) => new Uint8Array(await unpacked(text, "").arrayBuffer());

  async function start({ parts, begin }) {
    stage(1, "Unpacking Python.");
    const packages = binary(parts.packages);
    // Python's loader fetches two files by their names; they are here, and nothing is fetched
    self.fetch = async (name) => {
      if (`${name}`.endsWith(".wasm")) return unpacked(parts.wasm, "application/wasm");
      if (`${name}`.endsWith(".zip")) return unpacked(parts.library, "application/zip");
      throw new Error("nothing is fetched here");
    };
    const python = await loadPyodide({
      createPyodideModule: _createPyodideModule,
      indexURL: "embedded://python/",
      packageBaseUrl: "embedded://python/",
      lockFileContents: { info: RUNTIME_INFO, packages: {} },
      fsInit: async (files, { sitePackages }) => {
        put(files, sitePackages, await packages);
        put(files, FOLDER, await binary(parts.folder));
        stage(2, "Starting Python.");
      },
      stdout: () => {},
      stderr: () => {},
    });
    stage(3, "Loading the rules.");
    python.runPython("import gc; gc.set_threshold(100_000, 20, 20)");
    const offline = python.pyimport("cfgaudit.cli.offline");
    offline.begin(`${FOLDER}/${begin}`);
    stage(4, "");
    return (request, given) => {
      if (given) python.FS.writeFile("/tmp/given", given);
      const answer = JSON.parse(offline.answer_text(JSON.stringify(request)));
      if (answer.file) answer.bytes = python.FS.readFile(answer.file);
      return answer;
    };
  }

  let ready = null;
  self.onmessage = async ({ data }) => {
    try {
      if (data.parts) {
        ready = start(data);
        await ready;
        return;
      }
      const ask = await ready;
      postMessage({ number: data.number, answer: ask(data.request, data.given) });
    } catch (error) {
      postMessage({ number: data.number ?? 0, failed: `${error.message ?? error}` });
    }
  };
}
