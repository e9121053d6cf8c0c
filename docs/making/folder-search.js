// Browsers start no worker for a page that was opened from a folder (file:). The search asks for one
// by its usual means; here a frame of its own stands in for it, with the same messages to and fro.

if (location.protocol === "file:") {
  window.Worker = class extends EventTarget {
    constructor(url) {
      super();
      this.onmessage = null;
      this.waiting = [];
      const frame = document.createElement("iframe");
      frame.hidden = true;
      frame.title = "Search";
      document.documentElement.append(frame);
      const inside = frame.contentWindow;
      inside.postMessage = (data) => this.tell(data);
      const script = frame.contentDocument.createElement("script");
      script.src = new URL(url, document.baseURI).href;
      script.onload = () => {
        this.inside = inside;
        for (const data of this.waiting.splice(0)) this.postMessage(data);
      };
      frame.contentDocument.head.append(script);
      this.frame = frame;
    }

    /** What the script says to the page. */
    tell(data) {
      const event = new MessageEvent("message", { data });
      setTimeout(() => {
        this.dispatchEvent(event);
        if (this.onmessage) this.onmessage(event);
      });
    }

    /** What the page says to the script; kept until it is there. */
    postMessage(data) {
      if (!this.inside) this.waiting.push(data);
      else this.inside.dispatchEvent(new this.inside.MessageEvent("message", { data }));
    }

    terminate() {
      this.frame.remove();
    }
  };
}
